/**
 * Margins and extremes of an audit against the truth of the bench at the instants they were read; and the copies with
 * one mistake each that this comparison must find.
 */
import path from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Scenario } from '../../simulators/scenario.js';
import { Audit, type AuditResult } from '../../src/audit/audit.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { SOFTWARE } from '../../src/host/version.js';
import { runJudged } from '../../src/rehearsal/judged-run.js';
import { TruthWitness } from '../../src/rehearsal/truth-witness.js';
import { loadRig } from '../../src/rig/load.js';

interface Audited {
  readonly witness: TruthWitness;
  readonly result: AuditResult;
}

/** @param declared faults the witness is told of; those of the scenario when absent */
async function audited(scenario: Scenario, declared = scenario.inject): Promise<Audited> {
  const loaded = loadRig(scenario.rig);
  const witness = new TruthWitness(loaded.rig, declared);
  const { look, nearer } = witness;
  const audit = new Audit({ software: SOFTWARE, look, nearer });
  await withTemporaryFolder((folder) =>
    runJudged(
      { loaded, scenario, stateDir: path.join(folder, 'state') },
      undefined,
      (text) => audit.feed(Buffer.from(text)),
      witness.truth,
    ),
  );
  return { witness, result: audit.end() };
}

describe('an audit against the truth of the bench', () => {
  let sound: Audited;
  beforeAll(async () => {
    sound = await audited(loadScenario('short-top-up'));
  });
  const compare = (change: (result: AuditResult) => Partial<AuditResult>) =>
    sound.witness.compare({ ...sound.result, ...change(sound.result) }).wrong;
  const altered = (code: string, change: (reading: number, atMs: number) => object) =>
    compare(({ margins }) => ({
      margins: margins.map((m) => (m.code === code ? { ...m, ...change(m.reading, m.atMs) } : m)),
    }));

  it('is the same in every margin and every extreme', () => {
    const { wrong, margins, extremes, falsified } = sound.witness.compare(sound.result);
    expect(wrong).toEqual([]);
    expect(falsified).toBe(0);
    const codes = sound.result.margins.map(({ code }) => code);
    expect(codes).toEqual(
      expect.arrayContaining([
        'cell-too-hot',
        'cable-hot',
        'contact-hot',
        'rafts-disagree',
        'supply-derated',
      ]),
    );
    expect(codes).toEqual(expect.arrayContaining(['loop-open', 'isolation-low', 'raft-isolation-low']));
    expect(margins).toBeGreaterThan(50);
    expect(extremes).toBe(2 * sound.result.extremes.length);
    expect(sound.result.extremes.map(({ field }) => field)).toEqual(
      expect.arrayContaining([
        'meter.currentMaxA',
        'meter.plugMinV',
        'raft3.soc',
        'raft4.cellMaxC',
        'loop.rmsA',
      ]),
    );
  });

  it.each([
    { code: 'cell-too-high', by: 0.001 },
    { code: 'cable-hot', by: 0.1 },
    { code: 'rafts-disagree', by: 0.05 },
    { code: 'supply-derated', by: 0.1 },
    { code: 'stored-charge', by: -0.2 },
    { code: 'isolation-low', by: 1e6 },
    { code: 'contact-drop', by: 0.5 },
    // The monitor's noise and pick-up make some ohms of it.
    { code: 'loop-high-resistance', by: 20 },
  ])('finds a margin of $code altered by $by', ({ code, by }) => {
    const wrong = altered(code, (reading) => ({ reading: reading + by }));
    expect(wrong.length).toBeGreaterThan(0);
    for (const what of wrong) expect(what).toContain(code);
  });

  it('finds a margin altered by one count of a reading, within its noise', () => {
    const wrong = altered('over-voltage', (reading) => ({ reading: reading + 0.1 }));
    expect(wrong).toHaveLength(1);
    expect(wrong[0]).toContain('over-voltage');
  });

  it('finds a margin told for another instant, and one of a code nobody knows the truth of', () => {
    expect(altered('bond-lost', (_, atMs) => ({ atMs: atMs + 50 }))[0]).toContain(
      'nothing to hold it against',
    );
    expect(altered('bond-lost', () => ({ code: 'brake-off' }))[0]).toContain('brake-off');
  });

  it('finds an altered extreme, and one told for another instant', () => {
    const change = (field: string, by: object) =>
      compare(({ extremes }) => ({
        extremes: extremes.map((e) => (e.field === field ? { ...e, ...by } : e)),
      }));
    expect(change('raft2.soc', { most: 0.7 })).toHaveLength(1);
    expect(change('meter.currentMinA', { least: -0.5 })[0]).toContain('least meter.currentMinA');
    expect(change('supply.voltageV', { leastAtMs: 1 })).toHaveLength(1);
  });

  it('finds an instrument that lies, unless the scenario says that it does', async () => {
    const scenario = loadScenario('meter-disagrees');
    const undeclared = await audited(scenario, []);
    const { wrong } = undeclared.witness.compare(undeclared.result);
    expect(wrong.some((what) => what.includes('margin of meter-disagrees'))).toBe(true);
    expect(wrong.some((what) => what.includes('greatest meter.currentMaxA'))).toBe(true);
    // What it does not falsify is held against the truth all the same.
    expect(
      wrong.filter(
        (what) => !/meter\.current|meter-disagrees|rafts-disagree|current|contact-drop/.test(what),
      ),
    ).toEqual([]);
    const told = await audited(scenario);
    const both = told.witness.compare(told.result);
    expect(both.wrong).toEqual([]);
    expect(both.falsified).toBeGreaterThan(0);
    expect(both.margins).toBeGreaterThan(50);
  });
});
