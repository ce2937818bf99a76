/**
 * The threats to messages of EN 50159:2010 clause 5 (repetition, deletion, insertion, resequencing, corruption,
 * delay, masquerade), as ways of tampering with the traffic of a session under current.
 */
import { SeededRandom } from '../../simulators/seeded-random.js';
import { crc32c, crcText } from '../../src/link/crc32c.js';
import { passes, type Tamper } from './tampering-link.js';

export interface Threat {
  readonly name: string;
  /** Made anew for each run. */
  make(): Tamper;
  /**
   * `refused`: the frames are turned away and the session does what it would have done. `tripped`: the session
   * trips in time. `either`: so much is lost that a trip is as right as going on.
   */
  readonly ends: 'refused' | 'tripped' | 'either';
}

const NONE = [] as const;
const at = (line: string, afterMs = 0) => ({ line, afterMs });

/** The frame as another session or device would have sent it, with a check that fits. */
export function withNonce(line: string, nonce: string): string {
  const head = `${line[0]}${nonce}${line.slice(9, line.lastIndexOf('*'))}`;
  return `${head}*${crcText(crc32c(head))}`;
}
/** The same frame sent in the other direction. */
export function echoed(line: string): string {
  const head = `${line[0] === '>' ? '<' : '>'}${line.slice(1, line.lastIndexOf('*'))}`;
  return `${head}*${crcText(crc32c(head))}`;
}

function damaged(line: string, random: SeededRandom): string {
  const place = Math.floor(random.between(0, 1) * line.length);
  const bit = 1 << Math.floor(random.between(0, 1) * 7);
  return line.slice(0, place) + String.fromCharCode(line.charCodeAt(place) ^ bit) + line.slice(place + 1);
}

export const THREATS: readonly Threat[] = [
  { name: 'repetition: each frame twice', ends: 'refused', make: () => (line) => [at(line), at(line, 30)] },
  {
    name: 'repetition: the last frame again and again in place of new ones',
    ends: 'tripped',
    make: () => {
      let kept: string | null = null;
      return (line) => {
        kept ??= line;
        return [at(kept)];
      };
    },
  },
  {
    name: 'deletion: every third frame',
    ends: 'either',
    make: () => (line, k) => (k % 3 === 0 ? NONE : passes(line)),
  },
  { name: 'deletion: all frames', ends: 'tripped', make: () => () => NONE },
  {
    name: 'insertion: noise, and frames of an earlier number',
    ends: 'refused',
    make: () => {
      const old: string[] = [];
      const random = new SeededRandom(71);
      return (line) => {
        old.push(line);
        const noise = Array.from({ length: 40 }, () => String.fromCharCode(32 + random.between(0, 1) * 95));
        return [at(line), at(noise.join(''), 5), at(old[Math.max(0, old.length - 8)] as string, 10)];
      };
    },
  },
  {
    name: 'resequencing: each pair of frames swapped',
    ends: 'either',
    make: () => {
      let held: string | null = null;
      return (line) => {
        if (held === null) {
          held = line;
          return NONE;
        }
        const both = [at(line), at(held)];
        held = null;
        return both;
      };
    },
  },
  {
    name: 'corruption: every second frame',
    ends: 'either',
    make: () => {
      const random = new SeededRandom(72);
      return (line, k) => passes(k % 2 === 0 ? damaged(line, random) : line);
    },
  },
  {
    name: 'corruption: all frames',
    ends: 'tripped',
    make: () => {
      const random = new SeededRandom(73);
      return (line) => passes(damaged(line, random));
    },
  },
  { name: 'delay: 2 s from one moment on', ends: 'tripped', make: () => (line) => [at(line, 2000)] },
  {
    name: 'delay: creeping, 4 ms more with each frame',
    ends: 'tripped',
    make: () => {
      let first = 0;
      return (line, k) => {
        if (first === 0) first = k;
        return [at(line, 4 * (k - first) + 0.001)];
      };
    },
  },
  {
    name: 'masquerade: frames of another session, and the own echo',
    ends: 'refused',
    make: () => (line) => [at(withNonce(line, '0badf00d'), 0), at(echoed(line), 0), at(line)],
  },
];
