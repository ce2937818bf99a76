/** A true offset of two clocks lies in the interval told for it: lines that wait, adapters that hold, clocks that drift. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../../simulators/seeded-random.js';
import { CLOCK_SHARE, type Heard, offsetOf } from '../../../src/prove/clock-offset.js';
import { transitMs } from '../../../src/rig/frame-size.js';

const BAUD = 460_800;
const BYTES = 600;
const PERIOD_MS = 50;

interface Line {
  readonly seed: number;
  readonly aheadMs: number;
  readonly driftShare: number;
  /** Held by an adapter besides the time on the wire. */
  readonly heldMs: number;
  readonly lostShare: number;
  /** The line is no wire at all: what is sent is there at once. */
  readonly instant: boolean;
  readonly durationS: number;
}

/** Reports of a device, and its clock at any moment of the supervisor's. */
function sessionOf({ seed, aheadMs, driftShare, heldMs, lostShare, instant, durationS }: Line) {
  const random = new SeededRandom(seed);
  const clockAt = (tMs: number): number => (tMs - aheadMs) * (1 + driftShare);
  const heard: Heard[] = [];
  for (let tMs = 0; tMs < durationS * 1000; tMs += PERIOD_MS) {
    const slow = random.between(0, 1) < 0.1 ? random.between(0, 300) : 0;
    const waitMs = (instant ? 0 : transitMs(BYTES, BAUD)) + heldMs * random.between(0.8, 1) + slow;
    if (random.between(0, 1) < lostShare) continue;
    const body = { verb: 'report', roles: { device: { clockMs: Math.floor(clockAt(tMs)) } } };
    heard.push({
      n: heard.length,
      tMs: tMs + waitMs,
      port: 0,
      bytes: BYTES,
      body: body as unknown as Heard['body'],
    });
  }
  return { heard: heard.sort((a, b) => a.tMs - b.tMs), clockAt };
}

describe('the offset of two clocks', () => {
  it('lies in its interval at every moment of a session', () => {
    const line = fc.record({
      seed: fc.nat(),
      aheadMs: fc.integer({ min: -100_000, max: 100_000 }),
      driftShare: fc.double({ min: -CLOCK_SHARE, max: CLOCK_SHARE, noNaN: true }),
      heldMs: fc.double({ min: 0, max: 16, noNaN: true }),
      lostShare: fc.double({ min: 0, max: 0.3, noNaN: true }),
      instant: fc.boolean(),
      durationS: fc.integer({ min: 10, max: 60 }),
    });
    fc.assert(
      fc.property(line, (drawn) => {
        const { heard, clockAt } = sessionOf(drawn);
        const offset = offsetOf(heard, BAUD);
        for (let tMs = 0; tMs < drawn.durationS * 1000; tMs += 487) {
          const { loMs, hiMs } = offset(tMs);
          const trueMs = tMs - clockAt(tMs);
          expect(loMs).toBeLessThanOrEqual(trueMs);
          expect(hiMs).toBeGreaterThanOrEqual(trueMs);
        }
      }),
      { seed: 4, numRuns: 60 },
    );
  });

  it('does not widen without end where clocks drift for an hour', () => {
    const { heard } = sessionOf({
      ...{ seed: 1, aheadMs: 0, driftShare: CLOCK_SHARE, heldMs: 0, lostShare: 0, instant: false },
      durationS: 3600,
    });
    const { loMs, hiMs } = offsetOf(heard, BAUD)(1_800_000);
    // Transit of the line, 20 ms that even the quickest may have waited, a count and the drift within 5 s.
    expect(hiMs - loMs).toBeLessThan(transitMs(BYTES, BAUD) + 20 + 1 + 2);
  });

  it('is not known where nothing was heard', () => {
    expect(offsetOf([], BAUD)(0).atMs).toBeNaN();
  });
});
