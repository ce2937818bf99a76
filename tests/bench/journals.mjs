/**
 * `journals summary` over a thousand journals: time against plain reading and JSON parsing of the same files in the
 * same run, and memory. `JOURNALS` sets how many, `REPLAY=1` decides every one anew as well.
 */
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const load = (file) => import(`${dist}/${file}.js`);
const { runVirtual } = await load('src/rehearsal/virtual-run');
const { filesInMemory } = await load('src/host/durable-file');
const { loadRig } = await load('src/rig/load');
const { gather } = await load('src/fleet/gather');

const COUNT = Number(process.env.JOURNALS ?? 1000);
const REPLAY = process.env.REPLAY === '1';
/** So many are of sessions of their own, the rest are copies. */
const DIFFERENT = 10;

async function make(folder) {
  const files = [];
  let bytes = 0;
  for (let k = 0; k < COUNT; k++) {
    const file = path.join(folder, `week-${k % 50}`, `session-${k}.ndjson`);
    mkdirSync(path.dirname(file), { recursive: true });
    if (k < DIFFERENT) {
      let text = '';
      await runVirtual({
        loaded: loadRig(k % 2 === 0 ? 'depot-cable' : 'terminus-shoes'),
        scenario: { seed: k + 1, start: {}, inject: [], wish: { targetEnergyKwh: 0.02 }, orders: [] },
        stateDir: 'bench',
        latchFiles: filesInMemory(),
        journalPath: 'none',
        sink: {
          append: (more) => {
            text += more;
          },
          close: async () => {},
        },
      });
      writeFileSync(file, text);
      bytes += text.length;
    } else copyFileSync(files[k % DIFFERENT], file);
    files.push(file);
  }
  return { files, bytes: (bytes / Math.min(COUNT, DIFFERENT)) * COUNT };
}

const cpuS = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};
async function timed(act) {
  const [cpu, wallMs] = [cpuS(), performance.now()];
  const result = await act();
  return { result, cpuS: cpuS() - cpu, wallS: (performance.now() - wallMs) / 1000 };
}
const peakMb = () => process.resourceUsage().maxRSS / 1024;

function plain(files) {
  let records = 0;
  for (const file of files)
    for (const line of readFileSync(file, 'utf8').trimEnd().split('\n'))
      if ('n' in JSON.parse(line)) records++;
  return records;
}

export async function run() {
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-bench-'));
  try {
    const { files, bytes } = await make(folder);
    const peer = await timed(() => plain(files));
    const before = peakMb();
    let most = 0;
    const whole = await timed(() =>
      gather({
        folder,
        replay: REPLAY,
        withinWeeks: 26,
        onProgress: () => {
          most = Math.max(most, process.memoryUsage().rss / 2 ** 20);
        },
      }),
    );
    const { sessions, notIntact } = whole.result;
    process.stdout.write(
      [
        `Summary of ${COUNT} journals, ${(bytes / 2 ** 20).toFixed(0)} MiB, ${peer.result} records${REPLAY ? ', each decided anew' : ''}`,
        `  counted          ${sessions} sessions, ${notIntact} not intact (goal: 0)`,
        `  reading, parsing ${peer.cpuS.toFixed(1)} s of processor time, ${peer.wallS.toFixed(1)} s`,
        `  summary          ${whole.cpuS.toFixed(1)} s of processor time, ${whole.wallS.toFixed(1)} s; ${((1000 * whole.cpuS) / COUNT).toFixed(1)} ms a journal`,
        `  ratio            ${(whole.cpuS / peer.cpuS).toFixed(1)} by processor time, ${(whole.wallS / peer.wallS).toFixed(1)} by the clock`,
        `  memory           ${before.toFixed(0)} MB at most before, ${peakMb().toFixed(0)} MB at most after; ${most.toFixed(0)} MB at most while at it`,
        '',
      ].join('\n'),
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
