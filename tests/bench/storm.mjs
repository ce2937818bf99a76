/** Storm sessions a second with one and two workers, against what the physics alone would allow. */
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { bare, session } from './session.mjs';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const { runStorm } = await import(`${dist}/src/storm/storm.js`);

const SESSIONS = Number(process.env.STORM_SESSIONS ?? 300);

async function timed(workers) {
  const beganMs = performance.now();
  const report = await runStorm({ sessions: SESSIONS, seed: 1, workers, onProgress: () => {} });
  return { report, perS: SESSIONS / ((performance.now() - beganMs) / 1000) };
}

export async function run() {
  const one = await timed(1);
  const two = await timed(2);
  const { orders, run: whole } = await session(300);
  bare(orders, 60_000);
  const alone = bare(orders, whole.bench.nowMs);
  const physicsS = alone.tookMs / 1000 / (whole.bench.nowMs / 1000);
  const sessionS = one.report.virtualS / SESSIONS;
  const allowed = 1 / (physicsS * sessionS);
  process.stdout.write(
    [
      `Storm of ${SESSIONS} sessions, seed 1, ${sessionS.toFixed(1)} s of virtual time each`,
      `  one worker       ${one.perS.toFixed(1)} sessions a second`,
      `  two workers      ${two.perS.toFixed(1)} sessions a second; the same digest: ${one.report.digest === two.report.digest}`,
      `  physics alone    would allow ${allowed.toFixed(0)} a second on one: ${(allowed / one.perS).toFixed(1)} times as many (goal: 6 or less)`,
      '',
    ].join('\n'),
  );
}
