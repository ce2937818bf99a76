/** A planned stop in sentences: first what a rule of thumb says, then what the full models say. */
import { figure } from '../host/words.js';
import type { StopPlan } from './plan-stop.js';

export const minutes = (s: number): string =>
  s < 90 ? `${figure(s, 3)} s` : `${Math.floor(Math.round(s) / 60)} min ${Math.round(s) % 60} s`;

const END: Readonly<Record<string, string>> = {
  target: 'the wish is reached',
  ceiling: 'the rafts reach their ceiling',
  'weakest-cell': 'the highest cell reaches its ceiling',
  deadline: 'the train must leave',
  'derated-out': 'too little current is permitted to go on',
};

export const thumbLines = ({ arithmetic: a, lead }: StopPlan): string[] => [
  `${figure(a.energyKwh)} kWh in ${minutes(a.powerS)} of power (the stop without ${figure(lead.toCurrentS, 3)} s before and ${figure(lead.toFreeS, 3)} s after) need ${figure(a.requiredPowerKw)} kW: ${figure(a.requiredCurrentA)} A at ${figure(a.atV)} V.`,
  `The rig gives at most ${figure(a.mostCurrentA)} A (${a.mostBy}), which are ${figure(a.mostEnergyKwh)} kWh in that time, or ${minutes(a.leastPowerS)} of power for the wish.`,
  a.addsUp
    ? 'That adds up, before ramp, taper and heat.'
    : 'That does NOT add up: no ramp, however good, makes it so.',
];

export function resultLine({ feasible, run, wish, shortKwh, wishedKwh }: StopPlan): string {
  const reached = `${figure(run.energyKwh)} kWh, to ${figure(100 * run.socEnd, 4)} %, free after ${minutes(run.durationS)}`;
  return feasible
    ? `FEASIBLE: ${reached} of ${minutes(wish.dwellS)}.`
    : `NOT FEASIBLE: ${reached}; short of the wish by ${figure(shortKwh)} of ${figure(wishedKwh)} kWh.`;
}

export const endLine = ({ run, leastDwellS, endsBy }: StopPlan): string =>
  `The charge ends because ${END[run.endReason] ?? run.endReason}. ${
    leastDwellS === null
      ? `No stop is long enough: ${END[endsBy ?? ''] ?? endsBy}.`
      : `Least stop for the wish: ${minutes(leastDwellS)}.`
  }`;
