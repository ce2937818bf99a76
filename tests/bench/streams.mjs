/**
 * Fifty pages over event streams for ten minutes of sessions, one of which takes nothing: the stop path meanwhile, against
 * the same stop path with no page served, in turns in the same run; what each page was given; and memory before and after.
 * The pages are a process of their own; page server and supervisor are one, as in `loopwarden serve`.
 */
import { spawn } from 'node:child_process';
import path from 'node:path';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { at, stopOnce } from './stop-path.mjs';

const load = (file) => import(path.resolve(import.meta.dirname, `../../dist/${file}.js`));
const { loadRig } = await load('src/rig/load');
const { realClock } = await load('src/host/clock');
const { quiet } = await load('src/host/diagnostics');
const { newSecret } = await load('src/host/random');
const { makePage } = await load('src/page/page');
const { NO_WISH } = await load('src/checks/check');
const { exitCodeOf } = await load('src/supervisor/outcome');

const MINUTES = Number(process.env.STREAM_MINUTES ?? 10);
const STREAMS = Number(process.env.STREAMS ?? 50);
/** Stops with no page served, before and after: the machine may be busier at one end. */
const BARE = Number(process.env.STREAM_BARE ?? 25);

setFlagsFromString('--expose-gc');
const collect = runInNewContext('gc');
const heapMb = () => {
  collect();
  return process.memoryUsage().heapUsed / 2 ** 20;
};
const pass = (ms) => new Promise((resolve) => realClock.after(ms, resolve));

/** A stand whose sessions are begun by the bench. */
class BenchStand {
  loaded = loadRig('depot-cable');
  clock = realClock;
  bench = null;
  running = null;
  runner = null;
  beganMs = 0;
  latch = { version: 1, rig: 'depot-cable', open: null, trip: null, owedToDevice: null, acknowledged: null };
  listener = null;
  get session() {
    return this.runner?.session ?? null;
  }
  get sessionMs() {
    return this.runner === null ? 0 : realClock.nowMs() - this.beganMs;
  }
  listen(listener) {
    this.listener = listener;
  }
  begin() {
    return Promise.reject(new Error('only the bench begins'));
  }
  person() {
    return false;
  }
  async close() {}

  watcher = {
    begun: (runner) => {
      this.runner = runner;
      this.beganMs = realClock.nowMs();
      this.running = { order: 'start', by: 'bench', wish: NO_WISH };
      this.listener.begun(this.running);
    },
    progress: (what) => this.listener.progress(what),
    ended: (outcome) => {
      this.listener.ended(outcome, exitCodeOf(outcome));
      this.running = null;
    },
  };
}

async function bare(seeds, list) {
  for (let k = 0; k < BARE; k++) list.push(await stopOnce(seeds + k));
}

export async function run() {
  const alone = [];
  const watched = [];
  await stopOnce(1);
  await bare(1000, alone);

  const stand = new BenchStand();
  const page = await makePage({
    ...{ stand, clock: realClock, diagnostics: quiet, software: 'bench', caution: [], newSecret },
    ...{ place: { host: '127.0.0.1', tls: false, names: [] }, assets: [], scriptHashes: [] },
  });
  await page.app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = page.app.server.address();
  const { people, hub, watch } = page.context;
  const cookies = Array.from({ length: STREAMS }, (_, i) => {
    const { token } = people.signIn(people.invite('watcher').invitation, `page ${i}`, () => false);
    return `loopwarden-${port}=${token}`;
  });
  const clients = spawn(process.execPath, [path.join(import.meta.dirname, 'stream-clients.mjs')]);
  let said = '';
  clients.stdout.on('data', (text) => {
    said += text;
  });
  const gone = new Promise((resolve) => clients.once('close', resolve));
  clients.stdin.write(`${JSON.stringify({ port, cookies })}\n`);
  while (hub.count < STREAMS) await pass(50);
  const [heapBefore, rssBefore] = [heapMb(), process.memoryUsage().rss / 2 ** 20];
  const endMs = realClock.nowMs() + MINUTES * 60_000;
  let letGoS = Number.NaN;
  for (let k = 0; realClock.nowMs() < endMs; k++) {
    watched.push(await stopOnce(2000 + k, stand.watcher));
    if (Number.isNaN(letGoS) && hub.count < STREAMS)
      letGoS = MINUTES * 60 - (endMs - realClock.nowMs()) / 1000;
    if (process.stderr.isTTY) process.stderr.write(`\r${k + 1} stops, ${hub.count} streams `);
  }
  if (process.stderr.isTTY) process.stderr.write('\r\x1b[K');
  await pass(1000);
  const [heapAfter, rssAfter] = [heapMb(), process.memoryUsage().rss / 2 ** 20];
  const { last } = watch.events;
  const left = hub.count;
  clients.stdin.end();
  await gone;
  await page.close();
  await bare(8000, alone);

  const told = JSON.parse(said);
  const whole = told.filter((p) => p.status === 200 && !p.closed && p.inOrder && p.last === last).length;
  const states = told.map((p) => p.states).sort((a, b) => a - b);
  const mb = told.reduce((sum, p) => sum + p.bytes, 0) / 2 ** 20;
  for (const list of [alone, watched]) list.sort((a, b) => a - b);
  const row = (name, list) =>
    `  ${name.padEnd(34)}${[0.5, 0.9, 0.99, 1].map((s) => `${at(list, s).toFixed(2)} ms`.padStart(10)).join('')}   (${list.length})`;
  process.stdout.write(
    [
      `Stop path beside ${STREAMS} streams, ${MINUTES} min     median      90 %      99 %     worst`,
      row('no page served', alone),
      row(`${STREAMS} streams, one takes nothing`, watched),
      `  bound of the rig, from the button to open poles   ${stand.loaded.rig.tripTimes.stopChainMs.value ?? stand.loaded.rig.tripTimes.stopChainMs} ms`,
      `Streams: ${whole} of ${STREAMS - 1} were told all ${last} events once and in order; states ${states[0]} to ${states.at(-1)}; ${mb.toFixed(0)} MB`,
      `  the one that takes nothing was let go after ${letGoS.toFixed(0)} s; ${left} streams at the end`,
      `Memory: heap ${heapBefore.toFixed(1)} MB before, ${heapAfter.toFixed(1)} MB after; resident ${rssBefore.toFixed(0)} and ${rssAfter.toFixed(0)} MB`,
      '',
    ].join('\n'),
  );
}
