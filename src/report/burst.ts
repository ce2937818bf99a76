/**
 * Bursts of pilot samples, put together from their `wave` lines by src/link/PROTOCOL.md. A device sends one by itself
 * when it latches; the supervisor asks for one when a person wants to see it.
 */

export interface Burst {
  /** True when the device sent it of its own accord, as it latched. */
  readonly atTrip: boolean;
  /** When its first part came, ms since the header. */
  readonly tMs: number;
  readonly spacingS: number;
  readonly samplesA: readonly number[];
  /** Parts that came, of how many. */
  readonly parts: readonly [came: number, of: number];
}

interface Under {
  readonly re: number;
  readonly port: number;
  readonly tMs: number;
  readonly of: number;
  readonly spacingS: number;
  readonly parts: (readonly number[])[];
  came: number;
}

const WAVE = / wave re:(\d+) part:(\d+),(\d+) dt:(\d+) ua:([-\d,]*)\*/;
/** As in the line protocol. */
const MOST_PARTS = 64;
const MOST_SAMPLES = 128;

export class Bursts {
  /** The first sent at a trip, else the last that was asked for. */
  #kept: Under | null = null;
  #under: Under | null = null;
  /** Bursts begun. */
  count = 0;

  take(tMs: number, port: number, line: string): void {
    const found = WAVE.exec(line);
    if (found === null) return;
    const [re, part, of, spacingNs] = found.slice(1, 5).map(Number) as [number, number, number, number];
    if (!(part >= 1 && part <= of && of <= MOST_PARTS && spacingNs > 0)) return;
    const known = this.#under;
    if (known === null || known.re !== re || known.port !== port || known.of !== of || part === 1)
      this.#begin({ re, port, tMs, of, spacingS: spacingNs / 1e9, parts: [], came: 0 });
    const under = this.#under as Under;
    if (under.parts[part - 1] !== undefined) return;
    const samples = (found[5] as string).split(',').slice(0, MOST_SAMPLES);
    under.parts[part - 1] = samples.map((text) => (text === '' ? Number.NaN : Number(text) * 1e-6));
    under.came++;
  }

  #begin(under: Under): void {
    this.#under = under;
    this.count++;
    if (this.#kept === null || this.#kept.re !== 0) this.#kept = under;
  }

  get burst(): Burst | null {
    const kept = this.#kept;
    if (kept === null) return null;
    // Over the holes too: a part may be missing anywhere.
    const each = Math.max(0, ...Array.from(kept.parts, (p) => p?.length ?? 0));
    // A part that was lost leaves its place empty.
    const samplesA = Array.from({ length: kept.of }, (_, i) => {
      const part = kept.parts[i];
      return part ?? (i < kept.of - 1 ? new Array<number>(each).fill(Number.NaN) : []);
    }).flat();
    const { re, tMs, spacingS, came, of } = kept;
    return { atTrip: re === 0, tMs, spacingS, samplesA, parts: [came, of] };
  }
}
