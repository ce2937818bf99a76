/**
 * From the frame that shows a pressed stop button to the frame that orders make-safe, over a real pseudo-terminal
 * with the real supervisor; against a bare echo of lines of the same length over the same kind of terminal, in turns.
 * Both are timed at the device's end, so the way there and back is in both.
 */
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const load = (file) => import(`${dist}/${file}.js`);
const { loadRig } = await load('src/rig/load');
const { realClock } = await load('src/host/clock');
const { filesInMemory } = await load('src/host/durable-file');
const { newNonce, osRandom } = await load('src/host/random');
const { LatchFile } = await load('src/journal/latch');
const { decodeToDevice, decodeToSupervisor } = await load('src/link/codec');
const { SerialLink } = await load('src/link/serial');
const { LineGuard } = await load('src/link/guard');
const { Runner } = await load('src/supervisor/runner');
const { NO_WISH } = await load('src/checks/check');
const { DeviceHost } = await load('simulators/device-host');
const { openPty } = await load('simulators/pty');
const { World } = await load('simulators/world');

/** Of sixty the 99 % figure is the worst, and the ratio as good as drawn by lot. */
const SAMPLES = Number(process.env.STOP_SAMPLES ?? 200);
const { rig, hash } = loadRig('depot-cable');
const port = rig.link.ports[0];
const REPORT_CHARS = 700;
const ORDER_CHARS = 60;

const store = () => ({
  path: 'none',
  append: () => {},
  sync: (done) => setImmediate(() => done(null)),
  close: async () => {},
});

/** Lines from the supervisor, at the device's end. */
function linesOf(pty, hear) {
  const guard = new LineGuard(4096);
  guard.on('data', (line) => hear(line.toString('latin1').replace(/\n$/, '')));
  pty.onData((bytes) => guard.write(Buffer.from(bytes, 'latin1')));
}

/**
 * One session up to its trip by the stop button; ms from the offending frame to make-safe.
 * @param watcher told of the session as a stand tells its listener
 */
export async function stopOnce(seed, watcher = { begun() {}, progress() {}, ended() {} }) {
  const pty = await openPty(realClock);
  const world = new World({ rig, seed });
  let reportedMs = Number.NaN;
  let tookMs = Number.NaN;
  let hear = () => {};
  linesOf(pty, (line) => {
    const decoded = decodeToDevice(line);
    const orders = decoded.ok && decoded.frame.body.verb === 'order' ? decoded.frame.body.orders : [];
    if (Number.isNaN(tookMs) && orders.some((o) => o.name === 'make-safe'))
      tookMs = performance.now() - reportedMs;
    hear(line);
  });
  const end = {
    send: (line) => {
      const decoded = decodeToSupervisor(line);
      if (
        decoded.ok &&
        decoded.frame.body.verb === 'report' &&
        decoded.frame.body.roles.stop?.chainClosed === 0
      )
        if (Number.isNaN(tookMs)) reportedMs = performance.now();
      pty.write(`${line}\n`);
      return true;
    },
    listen: (onLine) => {
      hear = onLine;
    },
  };
  const host = new DeviceHost({ clock: realClock, plant: world, rig }, [end], 'real');
  host.start();
  await new Promise((resolve, reject) => {
    const runner = new Runner({
      rig,
      rigHash: hash,
      software: 'bench',
      clock: realClock,
      clockKind: 'real',
      links: [new SerialLink({ clock: realClock, port: port.name, path: pty.path, baud: port.baud })],
      store: store(),
      latch: new LatchFile('bench', rig.name, filesInMemory()),
      nonce: newNonce(osRandom),
      by: 'bench',
      wish: { ...NO_WISH, targetSoc: 0.9 },
      order: 'start',
      onProgress: (what) => {
        watcher.progress(what);
        if (what.kind === 'phase' && what.phase === 'proving-presence')
          world.inject({ fault: 'stop-pressed', afterS: (seed % 50) / 1000 });
        if (what.kind === 'trip') void realClock.after(60, () => runner.close().then(resolve));
      },
      onEnded: (outcome) => watcher.ended(outcome),
    });
    watcher.begun(runner);
    runner.open().catch(reject);
  });
  host.stop();
  pty.close();
  return tookMs;
}

/** A bare echo: a line as long as a report in, a line as long as an order out. */
async function echoes(count) {
  const pty = await openPty(realClock);
  const link = new SerialLink({ clock: realClock, port: port.name, path: pty.path, baud: port.baud });
  const reply = 'x'.repeat(ORDER_CHARS);
  await link.open({ line: () => link.send(reply), down: () => {} });
  let sentMs = 0;
  let arrived = () => {};
  linesOf(pty, () => arrived(performance.now() - sentMs));
  const took = [];
  for (let k = 0; k < count; k++) {
    await new Promise((resolve) => setTimeout(resolve, rig.link.periodMs));
    took.push(
      await new Promise((resolve) => {
        arrived = resolve;
        sentMs = performance.now();
        pty.write(`${'r'.repeat(REPORT_CHARS)}\n`);
      }),
    );
  }
  await link.close();
  pty.close();
  return took;
}

export const at = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))];

export async function run() {
  const stops = [];
  const bare = [];
  await stopOnce(1);
  await echoes(10);
  for (let k = 0; k < SAMPLES; k++) {
    stops.push(await stopOnce(100 + k));
    bare.push(...(await echoes(8)));
    if (process.stderr.isTTY) process.stderr.write(`\r${k + 1} of ${SAMPLES} stops `);
  }
  if (process.stderr.isTTY) process.stderr.write('\r\x1b[K');
  for (const list of [stops, bare]) list.sort((a, b) => a - b);
  const row = (name, list) =>
    `  ${name.padEnd(30)}${[0.5, 0.9, 0.99].map((s) => `${at(list, s).toFixed(2)} ms`).join('   ')}   (${list.length})`;
  process.stdout.write(
    [
      'Stop path over a pseudo-terminal          median    90 %      99 %',
      row('offending frame to make-safe', stops),
      row('bare echo of such lines', bare),
      `  ratio of the 99 % figures     ${(at(stops, 0.99) / at(bare, 0.99)).toFixed(2)} (goal: 2 or less)`,
      '',
    ].join('\n'),
  );
}
