/**
 * Which tests the mutants of which files are run against: each file with the tests written for it, so that a run
 * of one file takes a minute. A file of the two folders that is in no group, or a test that is not there, is told.
 */
import { existsSync, readdirSync } from 'node:fs';

const CHECKS = 'src/checks';
const TESTS = 'tests/unit/checks';
/** Holds names and codes of all checks; every check is run against it too. */
const CATALOGUE = 'catalogue';

/** Words for people, with no decision in them. */
export const NOT_MUTATED = ['codes-charge', 'codes-circuit', 'code-entry'];

/** Files whose tests do not have their name. */
const TESTED_BY = {
  check: ['check', 'freshness', 'securing', 'heat'],
  estimate: ['estimate', 'cable-figures', 'isolation-curve', 'precharge-curve'],
  finding: ['finding', 'securing', 'over-voltage', 'contactors'],
  index: [CATALOGUE],
  'isolation-curve': ['isolation-figures', 'isolation-curve'],
  'isolation-live': ['isolation-live', 'isolation-live-measurement', 'isolation-live-network'],
  'isolation-verdict': ['isolation-verdict', 'isolation-curve'],
  'loop-model': ['loop-waveform'],
  'loop-waveform': ['loop-waveform-limits', 'loop-waveform'],
  'per-rig': ['per-rig', 'residual', 'cells', 'rafts'],
  'poles-open': ['poles-open', 'poles-welded'],
  phases: ['phases', 'heat', 'over-current'],
  'raft-limits': ['raft-limits', 'window'],
  rafts: ['rafts', 'rafts-under-way'],
  settle: ['settle', 'isolation-dead', 'isolation-live-measurement'],
  tolerance: ['tolerance', 'plausibility', 'tracking', 'over-current', 'hold-point'],
  window: ['window', 'window-figures'],
  where: ['where', 'contactors', 'poles-open', 'rafts'],
};

const MODEL = 'tests/model';
/** Quick and decisive, first; whatever else is there comes after them. */
const MODEL_FIRST = ['invariants', 'invariants-trips', 'edge-table', 'promises', 'machine'];

/** Tests are run in this order, and none after the first that fails.
 * @returns {{name: string, mutate: string[], tests: string[]}[]} */
export function groups() {
  const testFile = (name) => `${TESTS}/${name}.test.ts`;
  const checks = readdirSync(CHECKS)
    .filter((file) => file.endsWith('.ts'))
    .map((file) => file.slice(0, -'.ts'.length))
    .filter((name) => !NOT_MUTATED.includes(name))
    .map((name) => ({
      name,
      mutate: [`${CHECKS}/${name}.ts`],
      tests: [...new Set([...(TESTED_BY[name] ?? [name]), CATALOGUE])].map(testFile),
    }));
  const first = MODEL_FIRST.map((name) => `${MODEL}/${name}.test.ts`);
  const others = readdirSync(MODEL)
    .filter((file) => file.endsWith('.test.ts'))
    .map((file) => `${MODEL}/${file}`)
    .filter((file) => !first.includes(file));
  const machines = { name: 'machines', mutate: ['machines/*.ts'], tests: [...first, ...others] };
  const all = [machines, ...checks];
  const missing = all.flatMap(({ name, tests }) =>
    tests.filter((file) => !existsSync(file)).map((file) => `${name}: there is no ${file}`),
  );
  // Dropped in silence, a check would be measured against the tests of all checks alone.
  if (missing.length > 0) throw new Error(`tests/mutation/groups.mjs: ${missing.join('; ')}`);
  return all;
}
