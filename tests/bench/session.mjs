/**
 * A session of one virtual hour — 20 reports a second, physics at 1 ms, codec, checks, machine, journal on disk —
 * against the same physics in a bare loop: the same orders at the same times, nothing else. Processor time of all threads.
 */
import { rmSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const { loadRig } = await import(`${dist}/src/rig/load.js`);
const { runVirtual } = await import(`${dist}/src/rehearsal/virtual-run.js`);
const { World } = await import(`${dist}/simulators/world.js`);
const { createTextFile, newFolder } = await import(`${dist}/src/host/durable-file.js`);

export const HOUR_S = 3600;
const SEED = 7;
const START = { soc: 0.2 };

/** Processor time, so that a busy machine does not count. */
const cpuMs = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
};

/** Runs one session and keeps what was ordered when. */
export async function session(seconds, loaded = loadRig('depot-cable')) {
  const folder = newFolder(path.join(process.cwd(), 'out', 'bench'));
  const journalPath = path.join(folder, 'journal.ndjson');
  const orders = [];
  const plain = World.prototype.apply;
  const phase = World.prototype.setPhase;
  World.prototype.apply = function (order) {
    orders.push([this.nowMs, 'apply', order]);
    return plain.call(this, order);
  };
  World.prototype.setPhase = function (name) {
    if (orders.at(-1)?.[2] !== name) orders.push([this.nowMs, 'setPhase', name]);
    return phase.call(this, name);
  };
  const scenario = { seed: SEED, start: START, inject: [], wish: { maxS: seconds }, orders: [] };
  const beganMs = cpuMs();
  const run = await runVirtual({
    loaded,
    scenario,
    stateDir: folder,
    journalPath,
    sink: createTextFile(journalPath),
  }).finally(() => {
    World.prototype.apply = plain;
    World.prototype.setPhase = phase;
  });
  const tookMs = cpuMs() - beganMs;
  rmSync(folder, { recursive: true });
  return { run, orders, tookMs, virtualS: run.bench.nowMs / 1000 };
}

/** The same physics alone. */
export function bare(orders, untilMs, rig = loadRig('depot-cable').rig) {
  const world = new World({ rig, seed: SEED, start: START, inject: [] });
  const beganMs = cpuMs();
  for (const [atMs, what, value] of orders) {
    world.advanceTo(atMs);
    world[what](value);
  }
  world.advanceTo(untilMs);
  return { world, tookMs: cpuMs() - beganMs };
}

export async function run() {
  await session(120);
  const whole = await session(HOUR_S);
  const untilMs = whole.run.bench.nowMs;
  bare(whole.orders, 120_000);
  const alone = bare(whole.orders, untilMs);
  const same = Math.abs(alone.world.ledger.outputJ / whole.run.bench.ledger.outputJ - 1);
  process.stdout.write(
    [
      'A session against its physics',
      `  session of ${whole.virtualS.toFixed(0)} s   ${(whole.tookMs / 1000).toFixed(2)} s, ${(whole.virtualS / (whole.tookMs / 1000)).toFixed(0)} times real time; ends ${whole.run.outcome.endReason}`,
      `  bare physics             ${(alone.tookMs / 1000).toFixed(2)} s, ${(whole.virtualS / (alone.tookMs / 1000)).toFixed(0)} times real time; energy differs by ${(100 * same).toFixed(4)} %`,
      `  ratio                    ${(whole.tookMs / alone.tookMs).toFixed(2)} (goal: 6 or less)`,
      '',
    ].join('\n'),
  );
}
