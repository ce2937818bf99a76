/** Time and energy limit of the two discharge resistors, however they were switched on. */
import { MAKE_SAFE } from '../../src/rig/make-safe.js';
import type { Rig } from '../../src/rig/schema.js';
import type { Outputs } from './outputs.js';
import type { Sensors } from './sensors.js';

/** How often the volts are looked at while a bleeder is on. */
export const BLEEDER_STEP_MS = 10;

type Side = 'output' | 'plug';

interface Watch {
  readonly side: Side;
  readonly ohm: number;
  onSinceMs: number | null;
  joules: number;
  deadSinceMs: number | null;
  nextMs: number;
}

export class Bleeders {
  private readonly watches: readonly Watch[];

  constructor(
    private readonly rig: Rig,
    private readonly outputs: Outputs,
    private readonly sensors: Sensors,
    /** A bleeder was switched off here: because its side is dead, or because of a limit. */
    private readonly off: (side: Side, why: 'dead' | 'limit') => void,
  ) {
    const watch = (side: Side, ohm: number): Watch => ({
      side,
      ohm,
      onSinceMs: null,
      joules: 0,
      deadSinceMs: null,
      nextMs: 0,
    });
    this.watches = [watch('output', rig.bleeder.outputOhm), watch('plug', rig.bleeder.plugOhm)];
  }

  get anyOn(): boolean {
    return this.outputs.bleedOutput || this.outputs.bleedPlug;
  }

  nextMs(nowMs: number): number {
    if (!this.anyOn) return Number.POSITIVE_INFINITY;
    let next = Number.POSITIVE_INFINITY;
    for (const watch of this.watches) {
      if (this.isOn(watch.side)) next = Math.min(next, watch.onSinceMs === null ? nowMs + 1 : watch.nextMs);
    }
    return next;
  }

  /** @param untilDead make-safe: switch off once the side is dead. */
  tick(nowMs: number, untilDead: boolean): void {
    for (const watch of this.watches) {
      if (!this.isOn(watch.side)) watch.onSinceMs = null;
      else if (watch.onSinceMs === null) {
        watch.onSinceMs = nowMs;
        watch.joules = 0;
        watch.deadSinceMs = null;
        watch.nextMs = nowMs + BLEEDER_STEP_MS;
      } else if (nowMs >= watch.nextMs) this.look(watch, nowMs, untilDead);
    }
  }

  private look(watch: Watch, nowMs: number, untilDead: boolean): void {
    const seconds = (nowMs - watch.nextMs + BLEEDER_STEP_MS) / 1000;
    watch.nextMs = nowMs + BLEEDER_STEP_MS;
    const volts = watch.side === 'output' ? this.sensors.outputV() : this.sensors.plugV();
    // What cannot be read is taken at its worst.
    const worstV = volts === null || Number.isNaN(volts) ? this.rig.converter.maxVoltageV : volts;
    watch.joules += (worstV ** 2 / watch.ohm) * seconds;
    const onS = (nowMs - (watch.onSinceMs as number)) / 1000;
    const within = onS < this.rig.bleeder.maxOnS && watch.joules < this.rig.bleeder.maxEnergyJ;
    if (!within) {
      this.switchOff(watch, 'limit');
      return;
    }
    if (!(worstV < MAKE_SAFE.bleederOffV)) watch.deadSinceMs = null;
    else watch.deadSinceMs ??= nowMs;
    if (untilDead && watch.deadSinceMs !== null && nowMs - watch.deadSinceMs >= MAKE_SAFE.bleederOffAfterMs) {
      this.switchOff(watch, 'dead');
    }
  }

  private isOn(side: Side): boolean {
    return side === 'output' ? this.outputs.bleedOutput : this.outputs.bleedPlug;
  }

  private switchOff(watch: Watch, why: 'dead' | 'limit'): void {
    watch.onSinceMs = null;
    this.outputs.apply({ name: watch.side === 'output' ? 'bleed-output' : 'bleed-plug', args: { on: 0 } });
    this.off(watch.side, why);
  }
}
