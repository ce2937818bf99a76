/**
 * The audit of a long journal: the chain against a plain bulk SHA-256 of the same file, everything against plain JSON
 * parsing of it, in the same run; and the peak of memory. AUDIT_HOURS sets the length (1), AUDIT_FILE audits a file
 * that is there instead.
 */
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { closeSync, mkdtempSync, openSync, rmSync, statSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';

const self = fileURLToPath(import.meta.url);
const dist = path.resolve(path.dirname(self), '../../dist');
const load = (file) => import(`${dist}/${file}.js`);
const { auditFile } = await load('src/cli/audit-file');
const { filesInMemory } = await load('src/host/durable-file');
const { pieces } = await load('src/host/big-file');
const { Chain } = await load('src/journal/chain');
const { runVirtual } = await load('src/rehearsal/virtual-run');
const { variant } = await load('src/storm/rigs');

const HOURS = Number(process.env.AUDIT_HOURS ?? 1);
/** The first runs of a short journal are those of an engine that is still warming up. */
const REPEATS = 8;
const NEWLINE = 0x0a;
const say = (line) => process.stdout.write(`${line}\n`);

const cpuS = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};
/** The quickest of a few. */
function best(times, act) {
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < times; k++) {
    const before = cpuS();
    act();
    least = Math.min(least, cpuS() - before);
  }
  return least;
}

/** In a process of its own, as a journal is: what a session leaves in an engine's memory is no matter of an audit. */
async function record(file) {
  const fd = openSync(file, 'wx');
  await runVirtual({
    loaded: variant('depot-cable', { 'battery.raft.cell.capacityAh': 40_000 }),
    scenario: { seed: 3, start: { soc: 0.3 }, inject: [], wish: { maxS: HOURS * 3600 }, orders: [] },
    stateDir: 'bench',
    latchFiles: filesInMemory(),
    journalPath: file,
    sink: { append: (text) => writeSync(fd, text), close: async () => closeSync(fd) },
  });
}

function bulkHash(file) {
  const hash = createHash('sha256');
  for (const piece of pieces(file)) hash.update(piece);
  hash.digest();
}

function chainOf(file) {
  const chain = new Chain();
  for (const piece of pieces(file)) chain.feed(piece);
  if (chain.faults.length > 0) throw new Error('the journal of the benchmark is not intact');
}

/** Lines cut and parsed, nothing else. */
function parseAll(file) {
  let rest = Buffer.alloc(0);
  let count = 0;
  for (const piece of pieces(file)) {
    const data = Buffer.concat([rest, piece]);
    const end = data.lastIndexOf(NEWLINE) + 1;
    for (const line of data.toString('utf8', 0, end).split('\n'))
      if (line !== '') count += JSON.parse(line).n & 1;
    rest = Buffer.from(data.subarray(end));
  }
  return count;
}

export async function run() {
  const given = process.env.AUDIT_FILE;
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-bench-'));
  const file = given ?? path.join(folder, 'journal.ndjson');
  try {
    if (given === undefined) spawnSync(process.execPath, [self, file], { stdio: 'inherit' });
    const megabytes = statSync(file).size / 1e6;
    const hash = best(REPEATS, () => bulkHash(file));
    const chain = best(REPEATS, () => chainOf(file));
    const json = best(REPEATS, () => parseAll(file));
    let peakMb = 0;
    let result;
    const whole = best(1, () => {
      result = auditFile(file, {}, () => {
        peakMb = Math.max(peakMb, process.memoryUsage().rss / 1e6);
      });
    });
    say(given === undefined ? `An audit of a session of ${HOURS} h` : `An audit of ${given}`);
    say(
      `  journal          ${megabytes.toFixed(1)} MB, ${result.records} records, found ${result.row}, diverged: ${result.diverged}`,
    );
    say(
      `  chain            ${(megabytes / chain).toFixed(0)} MB/s; bulk SHA-256 ${(megabytes / hash).toFixed(0)} MB/s: ${(hash / chain).toFixed(2)} of its speed (goal: at least 0.5)`,
    );
    say(
      `  whole audit      ${whole.toFixed(2)} s with everything decided anew; JSON parsing ${json.toFixed(2)} s: ratio ${(whole / json).toFixed(1)} (goal: at most 8)`,
    );
    say(`  memory           ${peakMb.toFixed(0)} MB resident at most`);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

if (process.argv[1] === self) await record(process.argv[2]);
