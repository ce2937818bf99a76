/**
 * Every threat to messages, in both directions, through the real stack under current: what is tampered with is
 * turned away, or the session trips within its deadline. Judged by the truth of the bench as well.
 */
import { afterAll, describe, expect, it } from 'vitest';
import { table } from '../../src/cli/print.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { decodeToSupervisor } from '../../src/link/codec.js';
import { deviations } from '../../src/rehearsal/judge.js';
import { runJudged } from '../../src/rehearsal/judged-run.js';
import { loadRig } from '../../src/rig/load.js';
import { type Direction, passes, TamperingLink } from './tampering-link.js';
import { THREATS, type Threat } from './threats.js';

const loaded = loadRig('depot-cable');
const { link } = loaded.rig;
const DIRECTIONS: readonly Direction[] = ['to-supervisor', 'to-device'];

/**
 * What is noticed at the latest: the longest of the deadlines that watch the line, twice over (one for a frame
 * that came just before, one for the answer), and the steps between.
 */
const WITHIN_MS =
  2 * Math.max(link.silenceMs, link.answerMs, link.deviceWatchdogMs) +
  link.authorityLifeMs / 2 +
  4 * link.periodMs;

async function attacked(threat: Threat | null, direction: Direction) {
  const tamper = threat?.make() ?? passes;
  const held = { on: false, firstMs: Number.NaN, rejectedByDevice: 0 };
  const run = await withTemporaryFolder((folder) =>
    runJudged({
      loaded,
      scenario: { ...loadScenario('short-top-up'), wish: { targetEnergyKwh: 1.1 } },
      stateDir: folder,
      wire: (links, clock) =>
        links.map(
          (inner) =>
            new TamperingLink(inner, clock, (line, count, way) => {
              if (way === 'to-supervisor') {
                const decoded = decodeToSupervisor(line);
                if (decoded.ok && decoded.frame.body.verb === 'report')
                  held.rejectedByDevice = decoded.frame.body.roles.device.rejectedFrames;
              }
              if (!held.on || way !== direction) return passes(line);
              if (Number.isNaN(held.firstMs)) held.firstMs = clock.nowMs();
              return tamper(line, count, way);
            }),
        ),
      onProgress: (what) => {
        if (what.kind === 'phase' && what.phase === 'holding') held.on = true;
        // Noticed: what the supervisor makes of it is another matter.
        if (what.kind === 'trip') held.on = false;
      },
    }),
  );
  return { run, held };
}

describe('threats to messages', () => {
  const rows: string[][] = [];
  for (const threat of THREATS)
    for (const direction of DIRECTIONS)
      it(`${threat.name}, ${direction}: ${threat.ends}`, async () => {
        const { run, held } = await attacked(threat, direction);
        const { outcome, exit } = run;
        const turnedAway = direction === 'to-supervisor' ? outcome.rejectedFrames : held.rejectedByDevice;
        const told =
          outcome.trip === null ? outcome.endReason : `${outcome.trip.code} in ${outcome.trip.phase}`;
        expect(Number.isNaN(held.firstMs), 'the line was tampered with').toBe(false);
        if (threat.ends === 'refused' || (threat.ends === 'either' && outcome.trip === null)) {
          expect(deviations({ outcome: 'released', exit: 0, endReason: 'target' }, run)).toEqual([]);
          if (!threat.name.startsWith('deletion')) expect(turnedAway).toBeGreaterThan(10);
          rows.push([threat.name, direction, 'turned away', `${turnedAway} frames`, '']);
          return;
        }
        expect(outcome.outcome).toBe('tripped');
        expect(deviations({ outcome: 'tripped', exit }, run)).toEqual([]);
        const afterMs = (run.tripMs ?? Number.NaN) - held.firstMs;
        rows.push([threat.name, direction, told, `after ${afterMs.toFixed(0)} ms`, `exit ${exit}`]);
        // A creeping delay is noticed when it has grown to a deadline: what was seen until then was younger than that.
        if (threat.ends === 'tripped' && !threat.name.includes('creeping'))
          expect(afterMs).toBeLessThanOrEqual(WITHIN_MS);
      });

  afterAll(() => {
    process.stdout.write(`\n${table(['threat', 'direction', 'ends', 'how much, how soon', 'exit'], rows)}\n`);
  });
});
