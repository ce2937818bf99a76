/** Memory and cost of a long session: a day of virtual time under current, looked at every hour. */
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const load = (file) => import(`${dist}/${file}.js`);
const { runVirtual } = await load('src/rehearsal/virtual-run');
const { filesInMemory } = await load('src/host/durable-file');
const { variant } = await load('src/storm/rigs');

setFlagsFromString('--expose-gc');
const gc = runInNewContext('gc');
const HOURS = Number(process.env.MEMORY_HOURS ?? 24);
const HOUR_MS = 3_600_000;

const heapMb = () => {
  gc();
  return process.memoryUsage().heapUsed / 2 ** 20;
};
const cpuS = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};

export async function run() {
  // A pack that takes a day at this current, and a ramp as ever.
  const loaded = variant('depot-cable', { 'battery.raft.cell.capacityAh': 40_000 });
  const looks = [];
  let bytes = 0;
  await runVirtual({
    loaded,
    scenario: { seed: 3, start: { soc: 0.3 }, inject: [], wish: { maxS: HOURS * 3600 }, orders: [] },
    stateDir: 'bench',
    latchFiles: filesInMemory(),
    journalPath: 'none',
    sink: {
      append: (text) => {
        bytes += text.length;
      },
      close: async () => {},
    },
    wire: (links, clock) => {
      const look = () => {
        looks.push({ heapMb: heapMb(), cpuS: cpuS() });
        if (process.stderr.isTTY) process.stderr.write(`\r${looks.length - 1} of ${HOURS} h `);
        if (looks.length <= HOURS) clock.after(HOUR_MS, look);
      };
      clock.after(60_000, look);
      return links;
    },
  });
  if (process.stderr.isTTY) process.stderr.write('\r\x1b[K');
  const [first] = looks;
  const last = looks.at(-1);
  const hours = looks.slice(1).map((l, k) => l.cpuS - looks[k].cpuS);
  process.stdout.write(
    [
      `A session of ${looks.length - 1} h of virtual time`,
      `  heap in use      ${first.heapMb.toFixed(1)} MB after a minute, ${last.heapMb.toFixed(1)} MB at the end: grows by ${(last.heapMb - first.heapMb).toFixed(1)} MB (goal: below 20)`,
      `  processor time   ${hours[0]?.toFixed(1)} s for the first hour, ${hours.at(-1)?.toFixed(1)} s for the last: ratio ${((hours.at(-1) ?? Number.NaN) / (hours[0] ?? Number.NaN)).toFixed(2)} (goal: 1)`,
      `  journal          ${(bytes / 2 ** 20 / (looks.length - 1)).toFixed(0)} MB an hour`,
      '',
    ].join('\n'),
  );
}
