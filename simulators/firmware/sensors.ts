/**
 * What the firmware reads between reports as well as for them. Reading the plant's meter starts its minimum
 * and maximum afresh, so the firmware keeps its own until the report takes them.
 */
import type { ServedRole } from '../../src/link/frames.js';
import type { ReadingOf } from '../../src/rig/roles.js';
import type { Plant } from '../plant.js';

type Meter = ReadingOf<'meter'>;

export class Sensors {
  private kept: Meter | null = null;
  private readonly served: ReadonlySet<ServedRole>;

  constructor(
    private readonly plant: Plant,
    served: readonly ServedRole[],
    /** A pre-charge contactor is fitted; otherwise its auxiliary says nothing. */
    readonly hasPre: boolean,
  ) {
    this.served = new Set(served);
  }

  serves(role: ServedRole): boolean {
    return this.served.has(role);
  }

  /** For the report: minimum and maximum since the report before. */
  meterForReport(): Meter {
    const meter = this.meter();
    this.kept = null;
    return meter;
  }

  /**
   * Greatest of the currents this port can see, regardless of sign; NaN when it can read none. The greatest,
   * because it decides whether a contactor may open.
   */
  currentA(): number {
    const seen: number[] = [];
    if (this.serves('converter')) seen.push(Math.abs(this.plant.read('converter').outputA));
    if (this.serves('meter')) seen.push(Math.abs(this.meter().currentA));
    const readable = seen.filter((a) => !Number.isNaN(a));
    return readable.length > 0 ? Math.max(...readable) : Number.NaN;
  }

  get seesCurrent(): boolean {
    return this.serves('converter') || this.serves('meter');
  }

  /** Converter side: the meter's volts, else the converter's own; null when this port has neither. */
  outputV(): number | null {
    if (this.serves('meter')) return Math.abs(this.meter().outputV);
    if (this.serves('converter')) return Math.abs(this.plant.read('converter').outputV);
    return null;
  }

  /** Plug side; null when this port has no meter. */
  plugV(): number | null {
    return this.serves('meter') ? Math.abs(this.meter().plugV) : null;
  }

  /** Every voltage this port sees is below the limit, poles to chassis included. What is unreadable is not. */
  allBelow(limitV: number): boolean {
    const outputV = this.outputV();
    if (outputV !== null && !(outputV < limitV)) return false;
    if (!this.serves('meter')) return true;
    const m = this.meter();
    return [m.plugV, m.outputPositiveV, m.outputNegativeV, m.plugPositiveV, m.plugNegativeV].every(
      (v) => Math.abs(v) < limitV,
    );
  }

  /** Auxiliaries of the charger contactors, true where this port does not read them. */
  contactorsReadOpen(): boolean {
    if (!this.serves('contactor')) return true;
    const c = this.plant.read('contactor');
    return c.closedP === 0 && c.closedN === 0 && (c.closedPre === 0 || !this.hasPre);
  }

  private meter(): Meter {
    const now = this.plant.read('meter');
    const kept = this.kept;
    this.kept =
      kept === null
        ? now
        : {
            ...now,
            currentMinA: Math.min(kept.currentMinA, now.currentMinA),
            currentMaxA: Math.max(kept.currentMaxA, now.currentMaxA),
            outputMinV: Math.min(kept.outputMinV, now.outputMinV),
            outputMaxV: Math.max(kept.outputMaxV, now.outputMaxV),
            plugMinV: Math.min(kept.plugMinV, now.plugMinV),
            plugMaxV: Math.max(kept.plugMaxV, now.plugMaxV),
          };
    return this.kept;
  }
}
