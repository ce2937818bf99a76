/**
 * The one injected source of random numbers. A live session's nonce comes from the operating system;
 * only simulation is seeded (see simulators/seeded-random.ts).
 */
import { randomBytes } from 'node:crypto';

export interface RandomSource {
  /** Uniform 32-bit unsigned integer. */
  uint32(): number;
}

export const osRandom: RandomSource = { uint32: () => randomBytes(4).readUInt32LE(0) };

/** Eight lower-case hex digits: the nonce of one session. Never all zero. */
export function newNonce(source: RandomSource): string {
  const n = source.uint32() >>> 0;
  return (n === 0 ? 1 : n).toString(16).padStart(8, '0');
}

/** A secret that nobody guesses: 256 bits from the operating system, for links and cookies. */
export const newSecret = (): string => randomBytes(32).toString('base64url');
