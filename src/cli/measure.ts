/** `loopwarden measure`: verdicts on recordings of an oscilloscope or logger, and on a cable's figures. */
import type { Command } from 'commander';
import { addMeasureLoop } from './measure-loop.js';

/** Each adds one command below `measure`. */
const ADDERS: readonly ((measure: Command) => void)[] = [addMeasureLoop];

export function addMeasure(program: Command): void {
  const measure = program
    .command('measure')
    .description('verdicts on your own recordings (CSV with a header row): loop and others');
  for (const add of ADDERS) add(measure);
}
