/** Estimates on the way out: as JSON fields and as words, the same for every measure command. */
import type { Estimate } from '../checks/estimate.js';
import { figure } from './print.js';
import { stated, withUncertainty } from './recording.js';

/** `tauS`, `tauSUncertainty`, and both ends of the 95 % interval; what is open or unknown is null. */
export const estimateFields = (name: string, e: Estimate): Record<string, number | null> => ({
  [name]: stated(e.value),
  [`${name}Uncertainty`]: stated(e.uncertainty),
  [`${name}AtLeast`]: stated(e.atLeast),
  [`${name}AtMost`]: stated(e.atMost),
});

const PREFIXES: readonly (readonly [from: number, prefix: string])[] = [
  [1e6, 'M'],
  [1e3, 'k'],
  [1, ''],
  [1e-3, 'm'],
  [1e-6, 'µ'],
  [1e-9, 'n'],
  [1e-12, 'p'],
];

/** `200.00 ± 0.07 kΩ`, or the bound that is proven where there is no more. */
export function estimateText(e: Estimate, unit: string): string {
  const sized = Number.isFinite(e.value) ? e.value : Number.isFinite(e.atMost) ? e.atMost : e.atLeast;
  const [scale, prefix] = PREFIXES.find(([from]) => Math.abs(sized) >= from) ?? [1, ''];
  const name = `${prefix}${unit}`;
  if (Number.isFinite(e.value) && Number.isFinite(e.uncertainty))
    return `${withUncertainty(e.value / scale, e.uncertainty / scale)} ${name}`;
  if (Number.isFinite(e.value))
    return `${figure(e.value / scale)} ${name}, at least ${figure(e.atLeast / scale)}`;
  if (e.atLeast > 0) return `at least ${figure(e.atLeast / scale)} ${name}`;
  return Number.isFinite(e.atMost) ? `at most ${figure(e.atMost / scale)} ${name}` : 'not determined';
}
