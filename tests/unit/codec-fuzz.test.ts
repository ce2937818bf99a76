/**
 * The codec under fire: frames damaged in every way a line can damage them. None may be taken for another frame,
 * none may make the codec throw or grow. A slice in `npm test`; `npm run acceptance:codec` tries ten million.
 *
 * A 32-bit check lets one in 2³² random damages pass (EN 50159:2010, from memory: it reckons with 2⁻ᶜ for c check
 * bits); ten million draws expect 0.002 false accepts, so a single one is a fault.
 */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import {
  decodeToDevice,
  decodeToSupervisor,
  encodeToDevice,
  encodeToSupervisor,
} from '../../src/link/codec.js';
import { toDevice, toSupervisor } from './codec-arbitraries.js';

const FRAMES = Number(process.env.FUZZ_FRAMES ?? 30_000);
const SEED = Number(process.env.FUZZ_SEED ?? 4711);
const CORPUS = 400;
/** Frames between two looks at the clock of the test runner. */
const CHUNK = 50_000;

const NONCE = '5eed0001';
/** Sound frames of every verb, both directions. */
const corpus: readonly string[] = [
  ...fc
    .sample(toDevice, { numRuns: CORPUS, seed: SEED })
    .map((body, i) => encodeToDevice(NONCE, i + 1, body)),
  ...fc
    .sample(toSupervisor, { numRuns: CORPUS, seed: SEED })
    .map((body, i) => encodeToSupervisor(NONCE, i + 1, body)),
];
const sound = new Set(corpus);

type Damage = (line: string, random: SeededRandom) => string;
const below = (random: SeededRandom, n: number): number => random.uint32() % Math.max(1, n);
const put = (line: string, at: number, code: number): string =>
  line.slice(0, at) + String.fromCharCode(code) + line.slice(at + 1);

const DAMAGES: Readonly<Record<string, Damage>> = {
  'bits turned': (line, random) => {
    let text = line;
    for (let k = 1 + below(random, 6); k > 0; k--) {
      const at = below(random, text.length);
      text = put(text, at, text.charCodeAt(at) ^ (1 << below(random, 8)));
    }
    return text;
  },
  'a digit changed': (line, random) => {
    const at = below(random, line.length);
    const code = line.charCodeAt(at);
    return code >= 48 && code <= 57
      ? put(line, at, 48 + below(random, 10))
      : put(line, at, 32 + below(random, 95));
  },
  'a burst': (line, random) => {
    const at = below(random, line.length);
    let text = line;
    for (let k = 0; k < 1 + below(random, 12) && at + k < line.length; k++)
      text = put(text, at + k, below(random, 256));
    return text;
  },
  'bytes lost': (line, random) => {
    const at = below(random, line.length);
    return line.slice(0, at) + line.slice(at + 1 + below(random, 8));
  },
  'bytes doubled': (line, random) => {
    const at = below(random, line.length);
    const end = at + 1 + below(random, 8);
    return line.slice(0, end) + line.slice(at);
  },
  'two bytes swapped': (line, random) => {
    const [a, b] = [below(random, line.length), below(random, line.length)];
    return put(put(line, a, line.charCodeAt(b)), b, line.charCodeAt(a));
  },
  'the head of one frame, the tail of another': (line, random) => {
    const other = corpus[below(random, corpus.length)] as string;
    return line.slice(0, below(random, line.length)) + other.slice(below(random, other.length));
  },
  'a wrong baud rate': (line, random) => {
    // Sampled at another rate, bytes come out few or many and unlike.
    const length = Math.floor(line.length * (0.25 + (3.75 * below(random, 1000)) / 1000));
    return Array.from({ length: Math.min(length, 3000) }, () => String.fromCharCode(below(random, 256))).join(
      '',
    );
  },
  'a number written otherwise': (line, random) =>
    line.replace(/:(\d)/, random.uint32() % 2 === 0 ? ':0$1' : ':+$1'),
};
const NAMES = Object.keys(DAMAGES);

describe('damaged frames', () => {
  test(`${FRAMES} of them: none is accepted, none makes the codec throw`, { timeout: 1_800_000 }, async ({
    task,
  }) => {
    const random = new SeededRandom(SEED);
    const accepted: string[] = [];
    const counts = new Map<string, number>();
    let damaged = 0;
    for (let k = 0; damaged < FRAMES; k++) {
      const name = NAMES[k % NAMES.length] as string;
      const text = (DAMAGES[name] as Damage)(corpus[below(random, corpus.length)] as string, random);
      // Damage may by chance be none at all.
      if (sound.has(text)) continue;
      damaged++;
      for (const decoded of [decodeToDevice(text), decodeToSupervisor(text)]) {
        if (decoded.ok) accepted.push(text);
        else counts.set(decoded.why, (counts.get(decoded.why) ?? 0) + 1);
      }
      if (k % CHUNK === 0) await new Promise((resolve) => setImmediate(resolve));
    }
    task.meta.notes = [
      `${damaged} damaged frames, ${accepted.length} accepted`,
      ...[...counts].sort((a, b) => b[1] - a[1]).map(([why, n]) => `  ${why}: ${n}`),
    ];
    expect(accepted).toEqual([]);
    // Most damage must have got as far as the check; a grammar that turns all away first would prove nothing.
    expect(counts.get('bad-crc') ?? 0).toBeGreaterThan(FRAMES / 4);
  });

  test('the corpus itself is accepted, each frame in its own direction only', () => {
    for (const line of corpus) expect(decodeToDevice(line).ok).not.toBe(decodeToSupervisor(line).ok);
  });
});
