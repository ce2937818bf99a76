/** A normal stop and a trip-now in every phase: each ends safely, with every invariant held. */
import { describe, expect, it } from 'vitest';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { deviations } from '../../src/rehearsal/judge.js';
import { runJudged } from '../../src/rehearsal/judged-run.js';
import { loadRig } from '../../src/rig/load.js';
import type { Phase } from '../../src/rig/roles.js';

async function ordered(order: 'stop' | 'trip-now', phase: Phase, rig: string) {
  const scenario = {
    ...loadScenario('short-top-up'),
    wish: { targetEnergyKwh: phase === 'holding' ? 1 : 0.3 },
    orders: [{ order, phase, afterS: 0.12 }],
  };
  return withTemporaryFolder((folder) =>
    runJudged({
      loaded: loadRig(rig),
      scenario,
      stateDir: folder,
    }),
  );
}

const BEFORE_POWER: readonly Phase[] = [
  'securing',
  'proving-presence',
  'checking-isolation',
  'joining-train',
];
const UNDER_POWER: readonly Phase[] = ['closing', 'ramping', 'holding'];

describe('stop', () => {
  it.each([
    ...BEFORE_POWER.map((p) => [p, 'depot-cable'] as const),
    ['matching-voltage', 'depot-cable'] as const,
    ['pre-charging', 'yard-precharge'] as const,
    ...UNDER_POWER.map((p) => [p, 'depot-cable'] as const),
  ])('in %s on %s: released by the operator, nothing live left', async (phase, rig) => {
    const run = await ordered('stop', phase, rig);
    expect(deviations({ outcome: 'released', exit: 0, endReason: 'operator' }, run)).toEqual([]);
    expect(run.outcome.refusals).toEqual([]);
  });
  it.each(['ramping-down', 'opening', 'bleeding'] as const)(
    'in %s: refused, and the session ends as it would',
    async (phase) => {
      const run = await ordered('stop', phase, 'depot-cable');
      expect(run.outcome.refusals.map((r) => [r.code, r.asked, r.part])).toEqual([
        ['not-permitted-now', 'stop', phase],
      ]);
      expect(deviations({ outcome: 'released', exit: 0, endReason: 'target' }, run)).toEqual([]);
    },
  );
});

describe('trip now', () => {
  it.each([
    ...BEFORE_POWER.map((p) => [p, 'depot-cable'] as const),
    ['matching-voltage', 'depot-cable'] as const,
    ['pre-charging', 'yard-precharge'] as const,
    ...[...UNDER_POWER, 'ramping-down', 'opening', 'bleeding'].map(
      (p) => [p as Phase, 'depot-cable'] as const,
    ),
  ])('in %s on %s: tripped and proven safe', async (phase, rig) => {
    const run = await ordered('trip-now', phase, rig);
    const expected = { outcome: 'tripped', code: 'trip-now', phase, effect: 'trip-0', exit: 3 } as const;
    expect(deviations(expected, run)).toEqual([]);
  });
});
