/**
 * What a raft's management unit allows and when it protests.
 *
 * Allowed current = greatest current × least of three shares:
 * - warmth: full up to `derateFromC`, falling to 25 % at `maxChargeC`, nothing above;
 * - cold: nothing below `minChargeC`, 20 % there, full 10 K above it;
 * - cell volts: full until 30 mV under `ceilingCellV`, falling to 5 % at the ceiling, nothing half-way from the
 *   ceiling to the hard limit.
 * The share is low-pass filtered (4 s), because cell volts answer a change of current at once and an unfiltered
 * taper would hunt. Alarm 1 while a share below 1 for heat, cold or volts over the ceiling; alarm 2 only well
 * beyond a hard limit and for 2 s: the management unit is the last line, the supervisor should be earlier.
 *
 * Where the rig gives balancing, resistors draw their current from the strongest cells while these are above its
 * threshold, so the spread closes by the slope of the open-circuit volts times the charge drawn.
 */
import type { Rig } from '../src/rig/schema.js';

const TAPER_BAND_V = 0.03;
const FILTER_S = 4;
const ALARM_MARGIN_V = 0.05;
const ALARM_MARGIN_K = 5;
const ALARM_AFTER_S = 2;
const HOT_SHARE = 0.25;
const COLD_SHARE = 0.2;
const COLD_BAND_K = 10;
const CEILING_SHARE = 0.05;

export class ManagementUnit {
  readonly #rig: Rig['battery']['raft'];
  #share = 1;
  #beyondS = 0;
  #ownAlarm = 0;
  /** Fault: raises at least this level. */
  forcedAlarm = 0;

  constructor(rig: Rig['battery']['raft']) {
    this.#rig = rig;
  }

  get allowedA(): number {
    return this.#rig.maxCurrentA * this.#share;
  }

  get alarm(): number {
    return Math.max(this.#ownAlarm, this.forcedAlarm);
  }

  /** Takes the present figures as if they had always been so. */
  settle(cellMaxV: number, cellMinC: number, cellMaxC: number): void {
    this.#share = this.#target(cellMaxV, cellMinC, cellMaxC);
  }

  step(stepS: number, cellMaxV: number, cellMinV: number, cellMinC: number, cellMaxC: number): void {
    const rig = this.#rig;
    const target = this.#target(cellMaxV, cellMinC, cellMaxC);
    this.#share = target === 0 ? 0 : this.#share + ((target - this.#share) * stepS) / FILTER_S;
    const beyond =
      cellMaxV > rig.maxCellV + ALARM_MARGIN_V ||
      cellMaxC > rig.maxChargeC + ALARM_MARGIN_K ||
      cellMinV < rig.minCellV - ALARM_MARGIN_V;
    this.#beyondS = beyond ? this.#beyondS + stepS : 0;
    const near =
      cellMaxV > rig.ceilingCellV + ALARM_MARGIN_V / 2 ||
      cellMaxC > rig.derateFromC ||
      cellMinC < rig.minChargeC;
    this.#ownAlarm = this.#beyondS >= ALARM_AFTER_S ? 2 : near ? 1 : 0;
  }

  /** By how much balancing closes the spread in one step, V. */
  balancedV(stepS: number, cellMaxV: number, spreadV: number, ocvSlopeV: number): number {
    const { balancing, cell, parallelCells } = this.#rig;
    if (balancing === undefined || cellMaxV < balancing.aboveCellV) return 0;
    const drawn = (balancing.currentA * stepS) / (3600 * cell.capacityAh * parallelCells);
    return Math.min(spreadV, drawn * ocvSlopeV);
  }

  #target(cellMaxV: number, cellMinC: number, cellMaxC: number): number {
    const rig = this.#rig;
    let share = 1;
    if (cellMaxC > rig.maxChargeC) share = 0;
    else if (cellMaxC > rig.derateFromC) {
      const over = (cellMaxC - rig.derateFromC) / Math.max(0.1, rig.maxChargeC - rig.derateFromC);
      share = 1 - (1 - HOT_SHARE) * over;
    }
    if (cellMinC < rig.minChargeC) share = 0;
    else if (cellMinC < rig.minChargeC + COLD_BAND_K)
      share = Math.min(share, COLD_SHARE + ((1 - COLD_SHARE) * (cellMinC - rig.minChargeC)) / COLD_BAND_K);
    const under = rig.ceilingCellV - cellMaxV;
    if (under < -(rig.maxCellV - rig.ceilingCellV) / 2) share = 0;
    else if (under < TAPER_BAND_V)
      share = Math.min(share, CEILING_SHARE + ((1 - CEILING_SHARE) * Math.max(0, under)) / TAPER_BAND_V);
    return share;
  }
}
