/** `measure loop`: a recording of the pilot current, held against the least that a verdict needs. */
import type { Pilot } from '../checks/loop-figures.js';
import {
  type LoopMeasurement,
  loopFromWaveform,
  MIN_PERIODS,
  MIN_POINTS_PER_PERIOD,
} from '../checks/loop-waveform.js';
import { InputError } from '../host/input-error.js';
import { type Column, numbersOf, type Recording } from './csv.js';

export const LOOP_COLUMNS: readonly Column[] = [
  { name: 'time_s', kind: 'number' },
  { name: 'current_a', kind: 'number' },
];

/** Bounds the work of the fit: three thousand periods of 200 points. */
export const MAX_LOOP_ROWS = 600_000;
export const MIN_LOOP_ROWS = MIN_PERIODS * MIN_POINTS_PER_PERIOD;

/**
 * @param recording with `LOOP_COLUMNS`
 * @param file as shown to people
 * @throws InputError when the recording is too short or too coarse for the pilot's frequency
 */
export function measureLoop(recording: Recording, pilot: Pilot, file: string): LoopMeasurement {
  const timeS = numbersOf(recording, 'time_s');
  const spanS = timeS[timeS.length - 1]! - timeS[0]!;
  const periods = spanS * pilot.frequencyHz;
  const points = (timeS.length - 1) / periods;
  const faults: string[] = [];
  if (!(periods >= MIN_PERIODS)) {
    faults.push(
      `too few points: found ${periods.toFixed(1)} periods of ${pilot.frequencyHz} Hz in ${spanS.toPrecision(3)} s, ` +
        `expected at least ${MIN_PERIODS}, better 20`,
    );
  }
  if (!(points >= MIN_POINTS_PER_PERIOD)) {
    faults.push(
      `too few points: found ${points.toFixed(1)} a period of ${pilot.frequencyHz} Hz, ` +
        `expected at least ${MIN_POINTS_PER_PERIOD}`,
    );
  }
  if (faults.length > 0) {
    throw new InputError(
      `recording ${file} cannot be used`,
      faults.map((message) => ({ file, line: timeS.length + 1, path: 'time_s', message })),
    );
  }
  return loopFromWaveform(timeS, numbersOf(recording, 'current_a'), pilot);
}
