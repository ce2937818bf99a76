/** Sessions in virtual time, as a person runs them. */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { durability, ofKind, readJournal } from '../crash/read-journal.js';
import { endAll, loopwarden, objectOf, outcomeOf, temporaryFolder } from './process.js';

const TIMEOUT = { timeout: 120_000 };
const dryRun = (out: string, ...more: string[]) => loopwarden(['dry-run', '--out', out, '--json', ...more]);
const bytes = (...parts: string[]) => readFileSync(path.join(...parts));

afterAll(endAll);

describe.concurrent('a dry run', () => {
  it('is the same to the byte with the same seed, and not with another', TIMEOUT, async () => {
    // One place for all, one after the other: paths are written into journals too.
    const cwd = temporaryFolder();
    const runs: Buffer[] = [];
    const truths: Buffer[] = [];
    for (const seed of ['5', '5', '6']) {
      const out = path.join(temporaryFolder(), 'here');
      const ended = await loopwarden(
        ['dry-run', '--scenario', 'short-top-up', '--seed', seed, '--out', out, '--json'],
        { cwd },
      );
      expect(ended.code).toBe(0);
      runs.push(Buffer.from(bytes(out, 'journal.ndjson').toString().replaceAll(out, 'OUT')));
      truths.push(bytes(out, 'truth.csv'));
    }
    expect(runs[0]?.equals(runs[1] as Buffer)).toBe(true);
    expect(truths[0]?.equals(truths[1] as Buffer)).toBe(true);
    expect(runs[0]?.equals(runs[2] as Buffer)).toBe(false);
  });

  it('says in one object what the bench did, and keeps a record that holds', TIMEOUT, async () => {
    const out = temporaryFolder();
    const ended = await dryRun(out, '--scenario', 'short-top-up');
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
    expect(ofKind(lines, 'end').map((l) => l.b)).toEqual([outcome]);
    expect(readdirSync(out).sort()).toEqual(['journal.ndjson', 'state', 'truth.csv']);
  });

  it('gives a trip with its figures and the time from the fault', TIMEOUT, async () => {
    const ended = await dryRun(temporaryFolder(), '--scenario', 'loop-opened');
    expect(ended.code).toBe(3);
    const { trip, residualVoltageAtReleaseV } = outcomeOf(ended);
    expect(trip).toMatchObject({
      code: 'loop-open',
      effect: 'trip-0',
      phase: 'holding',
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
    const { code, stdout, stderr } = await loopwarden(['dry-run', '--scenario', 'short-top-up'], { cwd });
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout).toMatch(/^LIVE DC KILLS/);
    for (const phase of ['securing', 'proving-presence', 'closing', 'ramping', 'holding', 'released'])
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
  it('holds in its own folder until acknowledged by name, and nowhere else', TIMEOUT, async () => {
    const out = temporaryFolder();
    const tripped = await dryRun(out, '--scenario', 'loop-opened');
    expect(tripped.code).toBe(3);
    const refused = await dryRun(out, '--scenario', 'short-top-up');
    expect(refused.code).toBe(4);
    expect(outcomeOf(refused)).toMatchObject({
      outcome: 'refused',
      endReason: 'latched',
      refusals: [{ code: 'latched', part: expect.stringContaining('loop-open in holding'), asked: 'start' }],
      residualVoltageAtReleaseV: null,
      phases: [],
    });
    // Neither run has written over the other's record.
    expect(readdirSync(out).sort()).toEqual([
      ...['journal-2.ndjson', 'journal.ndjson', 'state', 'truth-2.csv', 'truth.csv'],
    ]);
    const elsewhere = await dryRun(temporaryFolder(), '--scenario', 'short-top-up');
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
    expect((await dryRun(out, '--scenario', 'short-top-up')).code).toBe(0);
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
    expect((await dryRun(out, '--scenario', 'short-top-up')).code).toBe(4);
  });
});
