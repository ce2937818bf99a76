/** For tests of the live isolation: a device that does as asked, on a network that is at rest at once. */
import { isolationLive } from '../../../src/checks/isolation-live.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene } from './build.js';

/** Pole volts at rest with the resistor at this position, 10 MΩ of voltmeter beside each leak of a 720 V pack. */
export function atRest(resistor: number, positiveOhm: number, negativeOhm: number) {
  const p = 1 / positiveOhm + 1 / 10e6 + (resistor === 1 ? 1 / 75e3 : 0);
  const n = 1 / negativeOhm + 1 / 10e6 + (resistor === 2 ? 1 / 75e3 : 0);
  return { positiveV: (720 * n) / (p + n), negativeV: (-720 * p) / (p + n) };
}

/** A device that does as asked one report later and shows volts at rest at once. */
export class Obedient {
  readonly run;
  readonly asked: number[] = [];
  obeys = true;
  constructor(
    readonly scene = new Scene().charging(0, 'joining-train'),
    public positiveOhm = 2e6,
    public negativeOhm = 2e6,
  ) {
    this.run = new Run(isolationLive, scene);
    Object.assign(scene.isolation, { point: 3, resistor: 0, ...atRest(0, positiveOhm, negativeOhm) });
  }
  reports(count: number, apartMs = 50): this {
    for (let k = 0; k < count; k++) {
      const ask = this.run.last.ask;
      const { isolation } = this.scene;
      if (this.obeys && ask !== undefined && ask.resistor !== isolation.resistor) {
        isolation.resistor = ask.resistor;
        this.scene.order('isolation', { isolationResistor: ask.resistor });
      }
      Object.assign(isolation, atRest(isolation.resistor, this.positiveOhm, this.negativeOhm));
      this.scene.meter.plugPositiveV = isolation.positiveV;
      this.scene.meter.plugNegativeV = isolation.negativeV;
      this.run.burst(1, apartMs);
      this.asked.push(this.run.last.ask?.resistor ?? -1);
    }
    return this;
  }
}
/** 300 ms of a quiet network, then four samples of each position: the report with which it is done. */
export const DONE = 7 + 4 + 4;
export const measured = (scene?: Scene, positiveOhm?: number, negativeOhm?: number) =>
  new Obedient(scene, positiveOhm, negativeOhm).reports(DONE);
export const isolated = (change: Partial<Rig['isolation']>): Rig => ({
  ...depot,
  isolation: { ...depot.isolation, ...change },
});
