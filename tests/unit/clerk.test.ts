/** What becomes of a person's order when a device does not answer: it is refused in time, never forgotten. */
import { describe, expect, it } from 'vitest';
import { NO_WISH } from '../../src/checks/check.js';
import { CHECKS } from '../../src/checks/index.js';
import { loadRig } from '../../src/rig/load.js';
import { Clerk, type ClerkParts } from '../../src/supervisor/clerk.js';
import type { DeskView } from '../../src/supervisor/desk.js';

const { rig } = loadRig('depot-cable');
const VIEW = {
  handshakes: { silentPort: () => null, faults: [] },
  complete: true,
  standing: [],
  proofs: new Set(['open-p', 'open-n', 'output-dead', 'plug-dead', 'proven-dead']),
} as unknown as DeskView;

/** A clerk before a device that holds its own latch, and what he did. */
function office() {
  const done: { orders: string[]; refused: string[]; endedMs: number | null } = {
    orders: [],
    refused: [],
    endedMs: null,
  };
  const clerk = new Clerk({
    setup: {
      rig,
      nonce: '11111111',
      by: 'N. N.',
      wish: NO_WISH,
      latched: false,
      startFaults: [],
      owedAcknowledgement: false,
      observing: null,
      checks: CHECKS,
    },
    out: {},
    log: { refuse: (found: { code: string }) => done.refused.push(found.code) },
    outbox: { dispatch: (orders: { name: string }[]) => done.orders.push(...orders.map((o) => o.name)) },
    conduct: { can: () => false, phase: 'parked' },
    give: () => {},
    ended: () => false,
    end: (nowMs: number) => {
      done.endedMs = nowMs;
    },
  } as unknown as ClerkParts);
  /** Acknowledges, and lets steps of one period pass until `untilMs`. */
  const pass = (fromMs: number, untilMs: number): void => {
    for (let ms = fromMs; ms <= untilMs; ms += rig.link.periodMs) clerk.consider(VIEW, ms);
  };
  return { clerk, done, pass };
}

describe('an acknowledgement', () => {
  it('is carried out when every port has cleared its latch', () => {
    const { clerk, done, pass } = office();
    clerk.receive({ order: 'acknowledge', by: 'N. N.' }, 0);
    pass(0, 400);
    expect(done.orders).toEqual(['clear-latch']);
    for (const _ of rig.link.ports) clerk.latchAnswered('cleared', 450);
    expect([clerk.carriedOut, done.endedMs, done.refused]).toEqual([true, 450, []]);
  });
  it('is refused when the device never answers, and not before it must', () => {
    const { clerk, done, pass } = office();
    clerk.receive({ order: 'acknowledge', by: 'N. N.' }, 0);
    pass(0, rig.link.answerMs);
    expect(done.endedMs).toBeNull();
    pass(rig.link.answerMs, 3 * rig.link.answerMs + 1000);
    expect(clerk.carriedOut).toBe(false);
    expect(done.refused).toEqual(['order-unanswered']);
    expect(done.endedMs).not.toBeNull();
  });
  it('is refused when the device keeps its latch', () => {
    const { clerk, done, pass } = office();
    clerk.receive({ order: 'acknowledge', by: 'N. N.' }, 0);
    pass(0, 400);
    clerk.latchAnswered('not-cleared', 450);
    expect([clerk.carriedOut, done.refused]).toEqual([false, ['not-proven-dead']]);
  });
});
