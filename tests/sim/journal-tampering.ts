/** Ways to tamper with a journal, each drawn from a seeded source; and whether the record gives it away. */
import type { SeededRandom } from '../../simulators/seeded-random.js';
import { signingWith } from '../../src/journal/keys.js';
import { hashOnly } from '../../src/journal/writer.js';
import { linesOf, resealed } from '../unit/journal/build.js';

export interface Evidence {
  /** The journal as written, and that of another session. */
  readonly text: string;
  readonly other: string;
  /** Private key of somebody else. */
  readonly strangersPem: string;
}

export interface Tampering {
  readonly kind: string;
  /** Only a head noted elsewhere can show it. */
  readonly needsHead?: true;
  /** Lies behind the last seal, where nothing is vouched for: it has to be listed as unprotected. */
  readonly unprotected?: true;
  make(evidence: Evidence, random: SeededRandom): string;
}

const below = (random: SeededRandom, count: number): number => random.uint32() % count;
const isSeal = (line: string): boolean => line.includes('"k":"seal"');
/** Another digit in a figure of the line; the line stays as valid as it was. */
function otherFigure(line: string, random: SeededRandom): string {
  const body = line.indexOf('"b":');
  const digits = [...line].flatMap((c, i) => (i > body && c >= '1' && c <= '8' ? [i] : []));
  const at = digits[below(random, Math.max(1, digits.length))];
  return at === undefined ? line : `${line.slice(0, at)}${Number(line[at]) + 1}${line.slice(at + 1)}`;
}

/** A line with a figure in its body, not a seal. */
function someLine(lines: readonly string[], random: SeededRandom): number {
  for (;;) {
    const at = 1 + below(random, lines.length - 2);
    const line = lines[at] as string;
    if (!isSeal(line) && /[1-8]/.test(line.slice(line.indexOf('"b":')))) return at;
  }
}

function changedFigure({ text }: Evidence, random: SeededRandom): string[] {
  const lines = linesOf(text);
  const at = someLine(lines, random);
  lines[at] = otherFigure(lines[at] as string, random);
  return lines;
}

export const TAMPERINGS: readonly Tampering[] = [
  {
    kind: 'a byte changed',
    make({ text }, random) {
      const bytes = Buffer.from(text);
      const at = below(random, bytes.length);
      bytes[at] = (bytes[at] as number) ^ (1 << below(random, 7));
      return bytes.toString('latin1');
    },
  },
  {
    kind: 'a line removed',
    make({ text }, random) {
      const lines = linesOf(text);
      lines.splice(below(random, lines.length - 1), 1);
      return lines.join('');
    },
  },
  {
    kind: 'a line added',
    make({ text, other }, random) {
      const lines = linesOf(text);
      const from = below(random, 2) === 0 ? lines : linesOf(other);
      lines.splice(1 + below(random, lines.length - 1), 0, from[below(random, from.length)] as string);
      return lines.join('');
    },
  },
  {
    kind: 'two lines exchanged',
    make({ text }, random) {
      const lines = linesOf(text);
      const a = below(random, lines.length);
      const b = (a + 1 + below(random, lines.length - 1)) % lines.length;
      [lines[a], lines[b]] = [lines[b] as string, lines[a] as string];
      return lines.join('');
    },
  },
  {
    kind: 'the tail cut off, anywhere',
    needsHead: true,
    make: ({ text }, random) => text.slice(0, below(random, text.length - 1)),
  },
  {
    kind: 'the tail cut off, at a seal',
    needsHead: true,
    make({ text }, random) {
      const lines = linesOf(text);
      const seals = lines.flatMap((line, i) => (isSeal(line) && i < lines.length - 1 ? [i] : []));
      return lines.slice(0, (seals[below(random, seals.length)] as number) + 1).join('');
    },
  },
  {
    kind: 'a figure changed, the chain made anew',
    make: (evidence, random) => resealed(changedFigure(evidence, random), hashOnly),
  },
  {
    kind: 'a figure changed, signed by another key',
    make: (evidence, random) =>
      resealed(changedFigure(evidence, random), signingWith(evidence.strangersPem, 'other').sealer),
  },
  {
    kind: 'a block of another session',
    make({ text, other }, random) {
      const [mine, theirs] = [blocksOf(text), blocksOf(other)];
      const at = below(random, mine.length);
      mine[at] = theirs[below(random, theirs.length)] as string;
      return mine.join('');
    },
  },
  {
    kind: 'a record added behind the last seal',
    unprotected: true,
    make({ text }, random) {
      const last = JSON.parse(linesOf(text).at(-1) as string) as { n: number; t: number };
      const more = { n: last.n + 1, t: last.t + below(random, 1000), k: 'tick', b: null };
      return `${text}${JSON.stringify(more)}\n`;
    },
  },
];

function blocksOf(text: string): string[] {
  const blocks: string[] = [''];
  for (const line of linesOf(text)) {
    blocks[blocks.length - 1] += line;
    if (isSeal(line)) blocks.push('');
  }
  return blocks.filter((block) => block !== '');
}
