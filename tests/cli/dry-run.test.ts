/** Sessions in virtual time, as a person runs them. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { durability, expectEnd, readJournal } from '../crash/read-journal.js';
import { endAll, loopwarden, objectOf, outcomeOf, temporaryFolder } from './process.js';
import { scenarioFile } from './rigs.js';

const TIMEOUT = { timeout: 120_000 };
const dryRun = (out: string, ...more: string[]) => loopwarden(['dry-run', '--out', out, '--json', ...more]);
const bytes = (...parts: string[]) => readFileSync(path.join(...parts));

afterAll(endAll);

const SHORT = scenarioFile('depot-cable');
const TRIPS = scenarioFile('depot-cable', '{ fault: loop-open, phase: ramping, afterS: 1 }');

describe.concurrent('a dry run', () => {
  it(
    'is the same to the byte with the same seed, wherever it is kept, and not with another',
    TIMEOUT,
    async () => {
      const runs = ['5', '5', '6'].map(async (seed) => {
        const out = path.join(temporaryFolder(), `kept-for-${seed}`);
        expect((await dryRun(out, '--scenario', SHORT, '--seed', seed)).code).toBe(0);
        return { journal: bytes(out, 'journal.ndjson'), truth: bytes(out, 'truth.csv') };
      });
      const [first, second, other] = await Promise.all(runs);
      expect(first?.truth.equals(second?.truth as Buffer)).toBe(true);
      expect(first?.journal.equals(second?.journal as Buffer)).toBe(true);
      expect(first?.journal.equals(other?.journal as Buffer)).toBe(false);
    },
  );

  it('says in one object what the bench did, and keeps a record that holds', TIMEOUT, async () => {
    const out = temporaryFolder();
    const ended = await dryRun(out, '--scenario', SHORT);
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    const outcome = outcomeOf(ended);
    expect(Object.keys(outcome)).toEqual(
      expect.arrayContaining([
        ...['outcome', 'endReason', 'endState', 'trip', 'refusals', 'durationS', 'energyToBatteryKwh'],
        ...['energyFromSupplyKwh', 'lossesKwh', 'peakCurrentA', 'peakRampAPerS', 'socStart', 'socEnd'],
        ...['residualVoltageAtReleaseV', 'bindingLimits', 'phases', 'journal'],
      ]),
    );
    expect(outcome).toMatchObject({ outcome: 'released', endReason: 'target', trip: null, refusals: [] });
    expect(outcome.journal).toBe(path.join(out, 'journal.ndjson'));
    const { lines } = readJournal(outcome.journal);
    expect(lines[0]).toMatchObject({ k: 'header', b: { clock: 'virtual' } });
    expect(durability(lines)).toMatchObject({ wrong: [] });
    expectEnd(lines, outcome);
    expect(readdirSync(out).sort()).toEqual(['journal.ndjson', 'state', 'truth.csv']);
  });

  it('gives a trip with its figures and the time from the fault', TIMEOUT, async () => {
    const ended = await dryRun(temporaryFolder(), '--scenario', TRIPS);
    expect(ended.code).toBe(3);
    const { trip, residualVoltageAtReleaseV } = outcomeOf(ended);
    expect(trip).toMatchObject({
      code: 'loop-open',
      effect: 'trip-0',
      phase: 'ramping',
      atS: expect.any(Number),
      reading: expect.any(Number),
      limit: expect.any(Number),
      setting: expect.stringMatching(/\S/),
      detectedAfterMs: expect.any(Number),
      fromInjectionMs: expect.any(Number),
    });
    expect(trip?.fromInjectionMs).toBeGreaterThan(0);
    expect(trip?.fromInjectionMs).toBeLessThanOrEqual(400);
    expect(residualVoltageAtReleaseV).toBeNull();
  });

  it('prints for people what a session is about', TIMEOUT, async () => {
    const cwd = temporaryFolder();
    const { code, stdout, stderr } = await loopwarden(['dry-run', '--scenario', SHORT], { cwd });
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/^LIVE DC KILLS/);
    for (const phase of ['securing', 'proving-presence', 'closing', 'ramping', 'released'])
      expect(stdout).toMatch(new RegExp(`^ +\\d+\\.\\d\\d s {2}${phase} `, 'm'));
    expect(stdout).toMatch(/^energy +[\d.]+ kWh/m);
    expect(stdout).toMatch(/^peak current, ramp +[\d.]+ A, [\d.]+ A\/s/m);
    expect(stdout).toMatch(/^binding limits +\S.*\d–\d.* s/m);
    expect(stdout).toMatch(/^residual voltage +[\d.]+ V at release/m);
    const journal = /^journal +(\S+)/m.exec(stdout)?.[1] as string;
    expect(existsSync(path.resolve(cwd, journal))).toBe(true);
    // Without --out everything lies below ./out, and nothing in the state folder of the user.
    expect(readdirSync(cwd)).toEqual(['out']);
  });
});

describe.concurrent('the latch of a dry run', () => {
  it('tells a last seal that is on the disk when the disk has failed', TIMEOUT, async () => {
    const out = path.join(temporaryFolder(), 'out');
    const { code, stdout } = await loopwarden(['dry-run', '--scenario', 'journal-full', '--out', out]);
    expect(code).toBe(3);
    const [, head = ''] = /^its last seal on disk ([0-9a-f]{64}); it failed behind that$/m.exec(stdout) ?? [];
    const audited = await loopwarden(['audit', path.join(out, 'journal.ndjson'), '--head', head]);
    expect(audited.stdout.replace(/\s+/g, ' ')).toContain('the head noted elsewhere is among its seals');
  });
  it('holds in its own folder until acknowledged by name, and nowhere else', TIMEOUT, async () => {
    const out = temporaryFolder();
    const tripped = await dryRun(out, '--scenario', TRIPS);
    expect(tripped.code).toBe(3);
    const refused = await dryRun(out, '--scenario', SHORT);
    expect(refused.code).toBe(4);
    expect(outcomeOf(refused)).toMatchObject({
      outcome: 'refused',
      endReason: 'latched',
      refusals: [{ code: 'latched', part: expect.stringContaining('loop-open in ramping'), asked: 'start' }],
      residualVoltageAtReleaseV: null,
      phases: [],
    });
    // Neither run has written over the other's record.
    expect(readdirSync(out).sort()).toEqual([
      ...['journal-2.ndjson', 'journal.ndjson', 'state', 'truth-2.csv', 'truth.csv'],
    ]);
    const elsewhere = await dryRun(temporaryFolder(), '--scenario', SHORT);
    expect(elsewhere.code).toBe(0);

    const acknowledge = ['acknowledge', '--rig', 'depot-cable', '--state', path.join(out, 'state'), '--json'];
    expect((await loopwarden(acknowledge)).code).toBe(2);
    const cleared = await loopwarden([...acknowledge, '--by', 'tester']);
    expect(cleared).toMatchObject({ code: 0, stderr: '' });
    expect(objectOf(cleared)).toEqual({
      acknowledged: true,
      by: 'tester',
      rig: 'depot-cable',
      refusals: [],
    });
    expect((await dryRun(out, '--scenario', SHORT)).code).toBe(0);
    const twice = await loopwarden([...acknowledge, '--by', 'tester']);
    expect(twice.code).toBe(4);
    expect(objectOf(twice)).toMatchObject({ acknowledged: false, refusals: [{ code: 'not-permitted-now' }] });
  });

  it('is not cleared from the record when nothing was proven dead', TIMEOUT, async () => {
    const out = temporaryFolder();
    expect((await dryRun(out, '--scenario', 'contactor-welded')).code).toBe(9);
    const ended = await loopwarden([
      ...['acknowledge', '--rig', 'depot-cable', '--by', 'tester', '--state', path.join(out, 'state')],
    ]);
    expect(ended).toMatchObject({ code: 4, stdout: expect.stringMatching(/not-proven-dead/) });
    expect((await dryRun(out, '--scenario', SHORT)).code).toBe(4);
  });
});
