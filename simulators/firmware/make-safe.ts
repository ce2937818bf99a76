/**
 * The make-safe sequence of one port, from one frame or from silence. A port runs the steps of the roles it
 * serves, each at its time; one that does not open P itself, or cannot see a current, goes by the deadline.
 * The pauses between the steps are what the supervisor proves the poles from, so they are kept to the ms.
 */
import type { TagKind } from '../../src/link/frames.js';
import { MAKE_SAFE } from '../../src/rig/make-safe.js';
import { ISOLATION_POINT, ISOLATION_RESISTOR } from '../../src/rig/roles.js';
import type { Rig } from '../../src/rig/schema.js';
import type { Outputs } from './outputs.js';
import type { Sensors } from './sensors.js';

/** Still above the breaking capacity at the deadline: the supply breaker is tripped, and P waits at most to here. */
export const OPEN_P_LAST_MS = 500;

interface Step {
  readonly atMs: number;
  readonly run: () => void;
}

export class MakeSafe {
  /** Start, null when never started or cleared. */
  startedMs: number | null = null;
  /** Steps remain, or a bleeder is still on. */
  running = false;
  private openedP = false;
  private trippedSupply = false;
  private later: Step[] = [];

  constructor(
    private readonly rig: Rig,
    private readonly outputs: Outputs,
    private readonly sensors: Sensors,
    private readonly tag: (kind: TagKind, value: number) => void,
  ) {}

  start(nowMs: number): void {
    this.startedMs = nowMs;
    this.running = true;
    this.openedP = false;
    this.trippedSupply = false;
    this.later = [];
    const { outputs, sensors } = this;
    if (sensors.serves('converter')) {
      outputs.apply({ name: 'disable-converter', args: {} });
      this.tag('converter-off', countsOfA(sensors.currentA()));
    }
    if (sensors.serves('bleeder')) {
      // On since before: off until P is open, or it would bleed the pack.
      if (outputs.bleedOutput) outputs.apply({ name: 'bleed-output', args: { on: 0 } });
      if (outputs.bleedPlug) outputs.apply({ name: 'bleed-plug', args: { on: 0 } });
    }
    if (sensors.serves('isolation')) {
      const args = { point: ISOLATION_POINT.joined, resistor: ISOLATION_RESISTOR.positive };
      outputs.apply({ name: 'isolate', args });
    }
    this.tick(nowMs);
  }

  /** Leaves the end state; the latch was cleared. */
  clear(): void {
    this.startedMs = null;
  }

  nextMs(nowMs: number): number {
    if (!this.running) return Number.POSITIVE_INFINITY;
    return this.openedP ? (this.later[0]?.atMs ?? Number.POSITIVE_INFINITY) : nowMs + 1;
  }

  tick(nowMs: number): void {
    if (!this.running || this.startedMs === null) return;
    if (!this.openedP) this.considerP(nowMs, nowMs - this.startedMs);
    while (this.later.length > 0 && nowMs >= this.later[0]!.atMs) this.later.shift()!.run();
    if (this.openedP && this.later.length === 0 && !this.outputs.bleedOutput && !this.outputs.bleedPlug) {
      this.running = false;
      this.tag('safe-end', nowMs - this.startedMs);
    }
  }

  private considerP(nowMs: number, sinceMs: number): void {
    const { sensors, rig } = this;
    const late = sinceMs >= MAKE_SAFE.openPLatestMs;
    if (!sensors.seesCurrent || (!sensors.serves('contactor') && !sensors.serves('supply'))) {
      // Blind, or P is another port's: the deadline is all there is.
      if (late) this.openP(nowMs, Number.NaN);
      return;
    }
    const currentA = sensors.currentA();
    const breakable = late ? currentA <= rig.contactors.breakingCapacityA : false;
    // A port that trips the supply but does not open P waits as long as the port that does may.
    if (sensors.serves('contactor') && currentA < rig.contactors.routineBreakA) {
      this.openP(nowMs, currentA);
      return;
    }
    if (!late) return;
    if (!breakable && !this.trippedSupply) {
      this.trippedSupply = true;
      if (sensors.serves('supply')) {
        this.outputs.apply({ name: 'trip-supply', args: {} });
        this.tag('supply-tripped', countsOfA(currentA));
      }
    }
    // Unreadable counts as breakable: an open pole behind a tripped supply is better than a closed one.
    if (breakable || Number.isNaN(currentA) || sinceMs >= OPEN_P_LAST_MS) this.openP(nowMs, currentA);
  }

  private openP(nowMs: number, currentA: number): void {
    const { outputs, sensors } = this;
    this.openedP = true;
    if (sensors.serves('contactor')) {
      outputs.apply({ name: 'open-p', args: {} });
      outputs.apply({ name: 'open-pre', args: {} });
      this.tag('opened-p', countsOfA(currentA));
    }
    const openNMs = nowMs + MAKE_SAFE.openNAfterPMs;
    const openTrainMs = openNMs + MAKE_SAFE.openTrainAfterNMs;
    if (sensors.serves('bleeder')) {
      this.add(nowMs + MAKE_SAFE.bleedOutputAfterPMs, () => {
        outputs.apply({ name: 'bleed-output', args: { on: 1 } });
        this.tag('bleed-output', 1);
      });
    }
    if (sensors.serves('contactor')) {
      this.add(openNMs, () => {
        outputs.apply({ name: 'open-n', args: {} });
        this.tag('opened-n', 0);
      });
    }
    if (sensors.serves('train')) {
      this.add(openTrainMs, () => {
        outputs.apply({ name: 'open-train', args: {} });
        this.tag('opened-train', 0);
      });
    }
    if (sensors.serves('bleeder')) {
      this.add(openTrainMs + MAKE_SAFE.bleedPlugAfterTrainMs, () => {
        outputs.apply({ name: 'bleed-plug', args: { on: 1 } });
        this.tag('bleed-plug', 1);
      });
    }
  }

  /** Added in the order of time. */
  private add(atMs: number, run: () => void): void {
    this.later.push({ atMs, run });
  }
}

/** NaN stays NaN: it is written as an empty value. */
const countsOfA = (currentA: number): number => Math.round(currentA * 100);
