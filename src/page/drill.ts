/** Exercises as the page knows them: which there are, the one under way, and what it came to. */
import type { PersonOrder } from '../supervisor/session-types.js';
import type { StandListener } from '../supervisor/stand.js';
import type { About, Snapshot } from './api.js';

export type ExerciseState = NonNullable<Snapshot['bench']>['exercise'];

/** It hears of everything that happens on the stand, for the debrief. */
export interface Drill extends StandListener {
  readonly list: About['exercises'];
  readonly state: ExerciseState;
  /** Makes the bench ready for it: another train, its faults to come. @throws InputError */
  start(exercise: string): void;
  /** What a person asked for, whatever became of it. */
  asked(order: PersonOrder): void;
}
