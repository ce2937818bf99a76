/** What all runs of a proof come to, and the same as JUnit; and what the command line refuses. */
import { describe, expect, it } from 'vitest';
import { addProve } from '../../../src/cli/prove.js';
import { junitOf } from '../../../src/prove/junit.js';
import { loadProcedures, onlyStep } from '../../../src/prove/load.js';
import { proofOf } from '../../../src/prove/proof.js';
import type { ProofRecord, RunRecord } from '../../../src/prove/record.js';
import { unmade } from '../../../src/prove/unmade.js';
import { loadRig } from '../../../src/rig/load.js';
import { runHere } from '../../cli/in-process.js';

const loaded = loadRig('depot-cable');
const procedures = onlyStep(loadProcedures('emergency-stop', loaded), 'button-under-current');

interface Given {
  readonly value: number | null;
  readonly verdict?: RunRecord['verdict'];
  readonly halfMs?: number;
  readonly deviations?: readonly string[];
}
const runOf = (
  { value, halfMs = 1, verdict = 'pass', deviations = [] }: Given,
  index: number,
): RunRecord => ({
  ...{ index, procedure: 'emergency-stop', step: 'button-under-current', repeat: index + 1, seed: index },
  ...{
    journal: `journals/${index}.ndjson`,
    journalHash: 'h',
    outcome: 'tripped',
    exit: 3,
    code: 'x',
    devices: [],
  },
  measures: [
    {
      ...{ name: 'mark to relay', unit: 'ms', atMost: 12, atLeast: null, source: 's', remark: '', verdict },
      ...{ value, lo: value === null ? null : value - halfMs, hi: value === null ? null : value + halfMs },
      n: 100 + index,
    },
  ],
  first: {
    by: index === 2 ? 'supervisor' : 'hard-wired',
    what: index === 2 ? 'ordered' : 'stop-button',
    n: 1,
  },
  verdict,
  deviations,
  trace: { zero: 'mark', every: 1, tMs: [index], currentA: [0], outputV: [0], plugV: [0], events: [] },
});
const proof = (given: readonly Given[], cases = given.length) =>
  proofOf({ header: { cases } as ProofRecord['header'], runs: given.map(runOf) }, procedures, loaded);

describe('a proof', () => {
  it('tells the distribution, the greatest uncertainty, and the worst with the journal it stands in', () => {
    const [step] = proof([{ value: 9 }, { value: 8, halfMs: 3.5 }, { value: 10 }]).procedures[0]?.steps ?? [];
    expect(step?.measures[0]).toMatchObject({
      spread: { n: 3, min: 8, median: 9, p95: 10, max: 10 },
      uncertainty: 3.5,
      // 8 and 3.5 lie above 10 and 1: what counts is the unfavourable end.
      ...{ worst: 11.5, journal: 'journals/1.ndjson', n: 101 },
    });
  });

  it('counts who acted first, and is as bad as its worst run', () => {
    const { verdict, procedures: results } = proof([
      { value: 9 },
      { value: 9, verdict: 'inconclusive' },
      { value: null, verdict: 'fail', deviations: ['only the supervisor acted first'] },
    ]);
    const [step] = results[0]?.steps ?? [];
    expect(step?.first).toEqual({ 'hard-wired: stop-button': 2, 'supervisor: ordered': 1 });
    expect([verdict, step?.verdict, step?.measures[0]?.verdict]).toEqual(['fail', 'fail', 'fail']);
    // What was never seen is the worst there is, and counts for nothing in the distribution.
    expect(step?.measures[0]).toMatchObject({ worst: null, spread: { n: 2 }, journal: 'journals/2.ndjson' });
    expect(step?.trace?.tMs).toEqual([2]);
    expect(step?.deviations).toEqual([
      { text: 'only the supervisor acted first', repeat: 3, journal: 'journals/2.ndjson' },
    ]);
  });

  it('counts a run that could not be made as inconclusive, and the figures of the others all the same', () => {
    const step = procedures[0]?.procedure.steps[0];
    if (step === undefined) throw new Error('the step of this test is gone');
    const not = { ...runOf({ value: 9 }, 1), ...unmade(step, loaded, 'the fault box: cannot worn-relay') };
    // As many figures as the step asks for, none of them seen.
    expect(not.measures.map((m) => m.value)).toEqual(step.see.map(() => null));
    const whole = { ...not, measures: not.measures.slice(0, 1) };
    const runs = [runOf({ value: 9 }, 0), whole, runOf({ value: 11 }, 3)];
    const of = proofOf({ header: { cases: 3 } as ProofRecord['header'], runs }, procedures, loaded);
    const [result] = of.procedures[0]?.steps ?? [];
    expect([of.verdict, result?.verdict]).toEqual(['inconclusive', 'inconclusive']);
    expect(result?.measures[0]).toMatchObject({ spread: { n: 2, min: 9, max: 11 }, worst: null });
    expect(result?.deviations.map((d) => d.text)).toEqual(['the fault box: cannot worn-relay']);
  });

  it('with runs still to be done, or none at all, has not passed', () => {
    expect(proof([{ value: 9 }], 2)).toMatchObject({ missing: 1, verdict: 'inconclusive' });
    expect(proof([], 0)).toMatchObject({ verdict: 'inconclusive' });
  });
});

/** Well-formed as far as this program writes it: every tag closed by its own, every character one that may stand. */
function tagsOf(xml: string): string[] {
  expect(xml).toMatch(/^<\?xml version="1.0" encoding="UTF-8"\?>\n/);
  const open: string[] = [];
  const seen: string[] = [];
  const body = xml.replace(/^<\?xml[^?]*\?>\n/, '');
  const rest = body.replace(
    /<(\/?)([a-z-]+)((?:\s+[a-z]+="[^"<]*")*)\s*(\/?)>/g,
    (_, closes: string, name: string, __: string, empty: string) => {
      if (closes !== '') expect(open.pop()).toBe(name);
      else {
        seen.push(name);
        if (empty === '') open.push(name);
      }
      return '';
    },
  );
  expect(open).toEqual([]);
  expect(rest).not.toMatch(/[<>"']|&(?!#\d+;)/);
  // biome-ignore lint/suspicious/noControlCharactersInRegex: that is what is asked
  expect(xml).not.toMatch(/[\u0000-\u0008\u000B\u000C\u000E-\u001F\uFFFE\uFFFF]/);
  return seen;
}

describe('JUnit', () => {
  it('is well-formed whatever is told, and counts what it holds', () => {
    const nasty = `a < b && "c" > 'd' ]]> \u0000\u0007\uFFFF é Ω`;
    const xml = junitOf(proof([{ value: 9, verdict: 'fail', deviations: [nasty] }]));
    // First a suite for the whole, then one a procedure.
    expect(tagsOf(xml)).toEqual([
      'testsuites',
      'testsuite',
      'testcase',
      'testsuite',
      'testcase',
      'failure',
      'system-out',
    ]);
    expect(xml).toContain('name="emergency-stop" tests="1" failures="1" errors="0" skipped="0"');
    expect(xml).toContain('é Ω');
  });

  it('tells inconclusive as an error, which no tool takes for passed', () => {
    const xml = junitOf(proof([{ value: 9, verdict: 'inconclusive' }]));
    expect(tagsOf(xml)).toContain('error');
    expect(xml).toContain('failures="0" errors="1"');
  });
});

describe('loopwarden prove', () => {
  it.each([
    [['--procedure', 'nothing'], /^there is no procedure named nothing; known names: all, /],
    [
      ['--procedure', 'plug', '--step', 'nothing'],
      /^there is no step named nothing; known steps: pulled-under-load/,
    ],
    [['--procedure', '/nowhere/x.yaml'], /^procedure \/nowhere\/x\.yaml cannot be read: /],
    [['--weakened', 'nothing'], /^--weakened nothing: expected one of pilot-relay-late, /],
    [['--repeat', '0'], /--repeat/],
    [['--shard', '4/3'], /--shard/],
  ] as const)('refuses %j with one message, exit 2', async (args, message) => {
    const said = await runHere(addProve, 'prove', '--rig', 'depot-cable', ...args);
    expect(said).toMatchObject({ code: 2, stdout: '' });
    expect(said.stderr.replace(/^error: /, '')).toMatch(message);
    expect(said.stderr).not.toMatch(/\n\s+at /);
  });
});
