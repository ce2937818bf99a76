/**
 * `npm run mutate [-- NAME…]`: changes the code of machines/ and src/checks/ in thousands of small ways and says
 * which changes no test notices. NAME is a file of src/checks without its ending, or `machines`; `--survivors`
 * lists what was left standing in the results there are, without running anything.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, renameSync } from 'node:fs';
import path from 'node:path';
import { groups } from './groups.mjs';

const OUT = 'out/mutation';
const CONFIG = 'tests/mutation/stryker.config.json';
const BAD_INPUT = 2;
const say = (line = '') => process.stdout.write(`${line}\n`);

const words = process.argv.slice(2);
const listOnly = words.includes('--survivors');
const names = words.filter((word) => !word.startsWith('--'));
const all = groups();
const unknown = names.filter((name) => !all.some((group) => group.name === name));
if (unknown.length > 0) {
  process.stderr.write(
    `there is nothing named ${unknown.join(', ')}; known: ${all.map((g) => g.name).join(', ')}\n`,
  );
  process.exit(BAD_INPUT);
}
const wanted = names.length === 0 ? all : all.filter((group) => names.includes(group.name));
const resultOf = (name) => path.join(OUT, `${name}.json`);

function mutate({ name, mutate, tests }) {
  mkdirSync(OUT, { recursive: true });
  const result = spawnSync(
    'npx',
    ['stryker', 'run', CONFIG, '--mutate', mutate.join(','), '--logLevel', 'warn'],
    { env: { ...process.env, MUTATION_TESTS: tests.join(',') }, encoding: 'utf8' },
  );
  if (result.status !== 0 || !existsSync(resultOf('report'))) {
    process.stderr.write(`${name}: the mutation run failed\n${result.stdout}${result.stderr}\n`);
    process.exit(1);
  }
  renameSync(resultOf('report'), resultOf(name));
}

/** Mutants by file: how many a test noticed, those none did, and those that ran out of time and count as noticed. */
function read(name) {
  if (!existsSync(resultOf(name))) return [];
  const { files } = JSON.parse(readFileSync(resultOf(name), 'utf8'));
  return Object.entries(files).map(([file, { source, mutants }]) => {
    const lines = source.split('\n');
    const valid = mutants.filter((m) => !['CompileError', 'RuntimeError', 'Ignored'].includes(m.status));
    const standing = valid.filter((m) => m.status === 'Survived' || m.status === 'NoCoverage');
    const late = valid.filter((m) => m.status === 'Timeout');
    return { file, valid: valid.length, killed: valid.length - standing.length, standing, late, lines };
  });
}

/** Said instead of the kind of mutant. */
const HOW = { NoCoverage: 'never run', Timeout: 'ran out of time' };
const share = ({ killed, valid }) => `${((100 * killed) / Math.max(1, valid)).toFixed(1)} %`.padStart(8);

for (const group of wanted) {
  if (!listOnly) mutate(group);
  for (const found of read(group.name)) {
    say(
      `${share(found)}  ${String(found.killed).padStart(5)} of ${String(found.valid).padEnd(5)} ${found.file}`,
    );
    if (!listOnly && names.length === 0) continue;
    for (const { location, mutatorName, replacement, status } of [...found.standing, ...found.late]) {
      const { start, end } = location;
      const was = found.lines
        .slice(start.line - 1, end.line)
        .join(' ')
        .trim()
        .replace(/\s+/g, ' ');
      const how = replacement.replace(/\s+/g, ' ').slice(0, 120);
      say(
        `    ${start.line}:${start.column} ${HOW[status] ?? mutatorName}: ${was.slice(0, 140)}  =>  ${how}`,
      );
    }
  }
}

const results = all.flatMap((group) => read(group.name));
say();
for (const folder of ['machines', 'src/checks']) {
  const there = results.filter(({ file }) => file.startsWith(`${folder}/`));
  const sum = (pick) => there.reduce((total, found) => total + pick(found), 0);
  const total = { killed: sum((f) => f.killed), valid: sum((f) => f.valid) };
  say(`${share(total)}  ${total.killed} of ${total.valid} in ${folder} (${there.length} files measured)`);
}
