/** Two closed poles of which one is asked open, and volts across one of them, for the tests of open poles. */
import { polesOpen } from '../../../src/checks/poles-open.js';
import { Run, type Scene } from './build.js';

export type Pole = 'P' | 'N';
export const POLES = [
  ['P', 'contactorP', 'closedP'],
  ['N', 'contactorN', 'closedN'],
] as const;
/** A pole asked open has 40 ms on the depot, and two reports and 50 ms for the answer. */
export const LATE_MS = 190;

/** Volts of both sides, the plug's balanced unless said otherwise, with so much across one pole. */
export function across(s: Scene, pole: Pole, acrossV: number, plugV = 720, plugNegativeV = -plugV / 2): void {
  const plugPositiveV = plugNegativeV + plugV;
  const outputPositiveV = plugPositiveV - (pole === 'P' ? acrossV : 0);
  const outputNegativeV = plugNegativeV + (pole === 'N' ? acrossV : 0);
  const outputV = outputPositiveV - outputNegativeV;
  Object.assign(s.meter, { plugV, plugPositiveV, plugNegativeV, outputV, outputPositiveV, outputNegativeV });
}
/** One second of closed poles, then one of them is asked open; its auxiliary says at once what it is told to. */
export function asked<S extends Scene>(pole: Pole, plugV: number, aux: number, scene: S) {
  const [, group, key] = POLES[pole === 'P' ? 0 : 1];
  scene.charging(0, 'ramping-down');
  across(scene, pole, 0, plugV);
  const run = new Run(polesOpen, scene).reports(20);
  scene.enter('opening').order(group, { [key]: false });
  scene.contactor[key] = aux;
  return run;
}
export const proofOf = (pole: Pole): string => `open-${pole.toLowerCase()}`;
