/**
 * `npm run cross-check`: the session machine and its copies with a mistake, written as Promela and verified by the
 * model checker Spin (Debian package `spin`, which needs gcc), verdict by verdict against our own exploration.
 * Exit 6 when any verdict differs. Without the checker nothing is verified, and that is said.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { MACHINE_INVARIANT_IDS } from '../../dist/machines/invariant-list.js';
import { sessionMachine } from '../../dist/machines/session.js';
import { STATED_BOUND } from '../../dist/src/audit/explore/ends.js';
import { promelaOf } from '../../dist/src/audit/explore/promela.js';
import { exploreAll } from '../../dist/src/audit/explore/report.js';
import { brokenMachines } from './broken-machines.mjs';

const DIVERGED = 6;
const say = (line = '') => process.stdout.write(`${line}\n`);
const missing = ['spin', 'gcc'].filter((tool) => spawnSync(tool, ['--version']).error !== undefined);
if (missing.length > 0) {
  say(`SKIPPED: ${missing.join(' and ')} not installed (apt-get install spin gcc); nothing was verified.`);
} else {
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-cross-check-'));
  try {
    process.exitCode = crossCheck(folder) === 0 ? 0 : DIVERGED;
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function crossCheck(folder) {
  say(execFileSync('spin', ['-V'], { encoding: 'utf8' }).trim());
  say(`${'machine'.padEnd(52)}${MACHINE_INVARIANT_IDS.map((id) => id.padEnd(5)).join('')} states`);
  const machines = [
    { name: 'the machine itself', machine: sessionMachine },
    ...brokenMachines(sessionMachine),
  ];
  let differing = 0;
  for (const { name, machine } of machines) {
    const ours = exploreAll(machine).broken;
    const { verdicts, states } = verify(folder, promelaOf(machine, STATED_BOUND));
    const cells = MACHINE_INVARIANT_IDS.map((id) => {
      const same = ours.includes(id) === verdicts[id];
      if (!same) differing++;
      return `${verdicts[id] ? 'no' : 'yes'}${same ? '' : '≠'}`.padEnd(5);
    });
    say(`${name.padEnd(52)}${cells.join('')} ${states}`);
  }
  const verdicts = machines.length * MACHINE_INVARIANT_IDS.length;
  say(`${verdicts} verdicts, ${differing} differ from our own exploration (yes: holds; no: broken)`);
  return differing;
}

/** @returns for each claim whether the checker found it broken, and the states of a whole search */
function verify(cwd, model) {
  writeFileSync(path.join(cwd, 'machine.pml'), model);
  const run = (tool, args) => execFileSync(tool, args, { cwd, encoding: 'utf8', maxBuffer: 1 << 26 });
  run('spin', ['-a', 'machine.pml']);
  run('gcc', ['-O0', '-w', '-o', 'pan', 'pan.c']);
  const verdicts = {};
  let states = 0;
  for (const id of MACHINE_INVARIANT_IDS) {
    // -w20: a small hash table for a small model; -n: no list of what was not reached.
    const said = run('./pan', ['-a', '-n', '-w20', '-m100000', '-N', id]);
    const errors = /errors: (\d+)/.exec(said);
    if (errors === null || /truncated|max search depth too small/.test(said))
      throw new Error(`the checker gave no verdict on ${id}:\n${said}`);
    verdicts[id] = Number(errors[1]) > 0;
    states = Math.max(states, Number(/(\d+) states, stored/.exec(said)?.[1] ?? 0));
  }
  return { verdicts, states };
}
