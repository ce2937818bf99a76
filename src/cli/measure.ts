/** `loopwarden measure`: verdicts on recordings of an oscilloscope or logger, and on a cable's figures. */
import type { Command } from 'commander';
import { addMeasureCable } from './measure-cable.js';
import { addMeasureIsolation } from './measure-isolation.js';
import { addMeasureLoop } from './measure-loop.js';
import { addMeasurePrecharge } from './measure-precharge.js';

/** Each adds one command below `measure`. */
const ADDERS: readonly ((measure: Command) => void)[] = [
  addMeasureLoop,
  addMeasureIsolation,
  addMeasurePrecharge,
  addMeasureCable,
];

export function addMeasure(program: Command): void {
  const measure = program
    .command('measure')
    .description('verdicts on your own recordings (CSV with a header row): loop and others');
  for (const add of ADDERS) add(measure);
}
