/**
 * `npm run explore`: walks the built machine exhaustively and prints what it found, then the copies with a mistake.
 * Exit 6 when an invariant is broken, a state or transition is never met, or a copy is not caught as meant.
 */
import { INVARIANTS, MACHINE_INVARIANT_IDS } from '../../dist/machines/invariant-list.js';
import { sessionMachine } from '../../dist/machines/session.js';
import { exploreAll } from '../../dist/src/audit/explore/report.js';
import { brokenMachines } from './broken-machines.mjs';

const BROKEN = 6;
const say = (line = '') => process.stdout.write(`${line}\n`);
let wrong = 0;

const { violations, unmet, bound, ...count } = exploreAll();
say(`states of the machine (value and flags)         ${count.machineStates}`);
say(`states with memory and running timers           ${count.states}`);
say(`events of the vocabulary                        ${count.events}`);
say(`edges taken                                     ${count.edges}`);
say(`events not permitted where they came            ${count.refused}`);
say(
  `definition: ${unmet.of.states} states, never reached ${unmet.states.length}; ${unmet.of.transitions} transitions, never taken ${unmet.transitions.length}`,
);
for (const what of [...unmet.states, ...unmet.transitions]) say(`  never met: ${what}`);
for (const [way, steps] of Object.entries(bound))
  say(`${`steps to an end after ${way}, at most`.padEnd(48)}${steps}`);
say();
for (const id of MACHINE_INVARIANT_IDS) {
  const first = violations.find((v) => v.id === id);
  say(`${id.padEnd(4)}${first === undefined ? 'holds   ' : 'BROKEN  '}${INVARIANTS[id].sentence}`);
  if (first === undefined) continue;
  say(`      ${first.why}, in ${first.at}; shortest way there:`);
  say(`      ${first.path.join(' → ')}`);
}
wrong += violations.length + unmet.states.length + unmet.transitions.length;

say();
say('Copies with one deliberate mistake each:');
for (const copy of brokenMachines(sessionMachine)) {
  const found = exploreAll(copy.machine);
  const meant = [copy.breaks, ...copy.also].sort();
  const caught = JSON.stringify(found.broken) === JSON.stringify(meant);
  if (!caught) wrong++;
  const first = found.violations.find((v) => v.id === copy.breaks);
  say(`${caught ? 'caught  ' : 'MISSED  '}${copy.breaks.padEnd(4)}${copy.name}`);
  say(
    `            ${first === undefined ? `found: ${found.broken.join(', ') || 'nothing'}` : `${first.why}, after ${first.path.length - 1} events`}`,
  );
}
say();
say(`${violations.length} violations; ${wrong === 0 ? 'all as it must be' : `${wrong} things are wrong`}`);
process.exitCode = wrong === 0 ? 0 : BROKEN;
