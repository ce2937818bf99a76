/** Journals of real sessions in virtual time, given wall times of their own and sealed anew: a fleet over weeks. */
import type { FaultName } from '../../../simulators/faults.js';
import { VIRTUAL_EPOCH_MS } from '../../../simulators/virtual-clock.js';
import { hashOnly } from '../../../src/journal/writer.js';
import { variant } from '../../../src/storm/rigs.js';
import type { Outcome } from '../../../src/supervisor/outcome.js';
import { linesOf, resealed } from '../journal/build.js';
import { recorded } from '../journal/recorded.js';

export interface Made {
  readonly text: string;
  readonly outcome: Outcome;
}

export interface Wanted {
  readonly base: string;
  readonly seed: number;
  /** Figures of the rig by dotted path. */
  readonly set?: Readonly<Record<string, number>>;
  /** Name in the header. */
  readonly rig: string;
  readonly wallMs: number;
  readonly fault?: FaultName;
  /** A latch that stands: the session is refused. */
  readonly latched?: boolean;
}

export async function madeJournal({
  base,
  seed,
  set = {},
  rig,
  wallMs,
  fault,
  latched,
}: Wanted): Promise<Made> {
  const { text, outcome } = await recorded({
    loaded: variant(base, set),
    scenario: {
      seed,
      start: latched ? { latched } : {},
      wish: { targetEnergyKwh: 0.01 },
      inject: fault === undefined ? [] : [{ fault, phase: 'ramping', afterS: 1 }],
    },
  });
  return { text: at(text, wallMs, rig), outcome };
}

/** The same session at another time, on a clock that is said to be real. */
function at(text: string, wallMs: number, rig: string): string {
  const lines = linesOf(text).map((line) => {
    if (!/"k":"(header|clock)"/.test(line)) return line;
    const record = JSON.parse(line);
    record.b.wallMs += wallMs - VIRTUAL_EPOCH_MS;
    if (record.k === 'header') Object.assign(record.b, { clock: 'real', rig });
    return `${JSON.stringify(record)}\n`;
  });
  return resealed(lines, hashOnly);
}

/** With one line changed and the chain made anew, as somebody without a key can. */
export function changed(text: string, mark: string, change: (line: string) => string): string {
  const lines = linesOf(text);
  const k = lines.findIndex((line) => line.includes(mark));
  const before = lines[k] as string;
  lines[k] = change(before);
  if (lines[k] === before) throw new Error(`nothing changed at ${mark}`);
  return resealed(lines, hashOnly);
}

// biome-ignore lint/suspicious/noExplicitAny: a test reads any record
export const recordsOf = (text: string): any[] => linesOf(text).map((line) => JSON.parse(line));

/** Counts of one role's section in every report line, by hand: no code of ours reads them. */
export const countsOf = (text: string, tag: string): number[][] =>
  recordsOf(text)
    .filter(({ k, b }) => k === 'frame' && / report /.test(b[1]))
    .flatMap(({ b }) => {
      const section = (b[1] as string)
        .split('*')[0]!
        .split(' ')
        .find((part) => part.startsWith(`${tag}:`));
      return section === undefined
        ? []
        : [
            section
              .slice(tag.length + 1)
              .split(',')
              .map(Number),
          ];
    });
