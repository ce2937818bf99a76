/** What was planned of a session beside what came. */
import type { Expected, Planned } from '../journal/planned.js';
import type { Outcome } from '../supervisor/outcome.js';

export interface PlannedFigure extends Expected {
  readonly name: 'energyKwh' | 'socEnd' | 'durationS';
  /** null where it was not told. */
  readonly got: number | null;
  /** Within what the plan said it may be off by. */
  readonly within: boolean;
}

type Told = Pick<Outcome, 'energyToBatteryKwh' | 'socEnd' | 'durationS'>;

export function againstPlan(planned: Planned, told: Told | null): PlannedFigure[] {
  const got = { energyKwh: told?.energyToBatteryKwh, socEnd: told?.socEnd, durationS: told?.durationS };
  return (['energyKwh', 'socEnd', 'durationS'] as const).map((name) => {
    const value = got[name] ?? null;
    const { low, high } = planned[name];
    return { name, ...planned[name], got: value, within: value !== null && value >= low && value <= high };
  });
}
