/** The supervisor stands still, is killed, or is told to stop, while current flows. */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { newKeyPair, verifierWith } from '../../src/journal/keys.js';
import { type Ended, loopwarden, objectOf, outcomeOf, temporaryFolder } from '../cli/process.js';
import { PATIENT } from '../cli/rigs.js';
import { bleedersOff, madeSafe, openWire, type Wire } from '../cli/wire.js';
import { ofKind, readJournal } from './read-journal.js';

const LONG_MS = 150_000;
/** Make-safe takes the device about a second; bounded for busy machines. */
const SAFE_WITHIN_S = 20;

/** A run over a wire, at the moment when current flows. */
async function flowing(state = temporaryFolder()) {
  const wire = await openWire();
  const device = wire.device();
  await device.says(/Answering/);
  const run = wire.run([], state);
  await wire.flows(run);
  return { wire, device, run, state };
}

const acknowledge = (wire: Wire, state: string, more: readonly string[] = []): Promise<Ended> =>
  loopwarden([
    ...['acknowledge', '--rig', wire.rig, '--by', 'tester', '--state', state, '--json'],
    ...['--port', wire.supervisorEnd, ...more],
  ]);

/** The newest journal below a state folder, audited with the key that was to sign it and the head kept elsewhere. */
function auditOfNewest(state: string, publicPem: string, headFile: string) {
  const folder = path.join(state, 'journals');
  const newest = path.join(folder, readdirSync(folder).sort().at(-1) as string);
  const kept = JSON.parse(readFileSync(headFile, 'utf8')) as {
    readonly journal: string;
    readonly head: string;
  };
  expect(kept.journal).toBe(newest);
  const verifier = verifierWith(publicPem, 'key');
  const audit = new Audit({ software: SOFTWARE, verifier, head: kept.head });
  audit.feed(readFileSync(newest));
  return audit.end();
}

export function supervisorStops(): void {
  describe.concurrent('a supervisor that', () => {
    it('stands still: the device makes itself safe, and the supervisor finds that out', {
      timeout: LONG_MS,
    }, async () => {
      const { wire, run, state } = await flowing();
      run.signal('SIGSTOP');
      // From the device's own side: nobody orders anything here.
      await wire.reports('the device safe by itself', madeSafe, SAFE_WITHIN_S);
      run.signal('SIGCONT');
      const ended = await run.end();
      const outcome = outcomeOf(ended);
      expect(outcome).toMatchObject({
        outcome: 'tripped',
        endReason: expect.stringMatching(/^(device-made-safe|link-silent|reading-stale)$/),
        // The device has everything open and dead, and the link is back: it can be proven.
        endState: { provenDead: true, plugLocked: true },
        trip: { phase: 'ramping' },
      });
      expect(ended.code).toBe(3);
      const latch = JSON.parse(readFileSync(path.join(state, `${PATIENT}.latch.json`), 'utf8'));
      expect(latch).toMatchObject({ open: null, trip: { provenDead: true } });
      wire.close();
    });

    it('is killed: the device makes itself safe, and the unfinished record counts as a trip', {
      timeout: LONG_MS,
    }, async () => {
      const { wire, run, state } = await flowing();
      run.signal('SIGKILL');
      expect(await run.end()).toMatchObject({ code: null, signal: 'SIGKILL', stdout: '' });
      await wire.reports('the device safe by itself', madeSafe, SAFE_WITHIN_S);
      const refused = await wire.run([], state).end();
      expect(refused.code).toBe(4);
      const outcome = outcomeOf(refused);
      expect(outcome).toMatchObject({ outcome: 'refused', phases: [] });
      // Both say it, each on its own: the record and the device.
      expect(outcome.refusals.map((r) => r.code)).toEqual(
        expect.arrayContaining(['unfinished-journal', 'device-latched']),
      );
      const onDisk = await loopwarden([
        ...['acknowledge', '--rig', wire.rig, '--by', 'tester', '--state', state],
      ]);
      expect(onDisk).toMatchObject({ code: 4, stdout: expect.stringMatching(/never recorded its end/) });
      // The refused start had the device make safe once more; its latch is cleared only behind the end of that.
      await wire.reports('the bleeders off again', bleedersOff, SAFE_WITHIN_S);
      const cleared = await acknowledge(wire, state);
      expect(objectOf<object>(cleared)).toMatchObject({ acknowledged: true, refusals: [] });
      expect(cleared.code).toBe(0);
      const again = wire.run(['--target-energy-kwh', '0.01'], state);
      expect(await again.end()).toMatchObject({ code: 0 });
      wire.close();
    });

    it.each(['SIGINT', 'SIGTERM'] as const)(
      'hears %s stops normally',
      { timeout: LONG_MS },
      async (signal) => {
        const { wire, run } = await flowing();
        run.signal(signal);
        const ended = await run.end();
        expect(ended).toMatchObject({ code: 0, stderr: expect.stringMatching(/^Stopping normally\..*\n$/) });
        const outcome = outcomeOf(ended);
        expect(outcome).toMatchObject({
          outcome: 'released',
          endReason: 'operator',
          endState: { provenDead: true, plugLocked: false },
          trip: null,
        });
        // Category 1: ramped down, not cut off.
        const phases = outcome.phases.map((p) => p.name);
        expect(phases.slice(phases.indexOf('ramping'))).toEqual([
          ...['ramping', 'ramping-down', 'opening', 'parting-train', 'bleeding', 'released'],
        ]);
        expect(ofKind(readJournal(outcome.journal).lines, 'person').map((l) => l.b.order)).toEqual([
          'start',
          'stop',
        ]);
        wire.close();
      },
    );

    it('hears SIGINT twice trips now; a third does not make it leave', { timeout: LONG_MS }, async () => {
      const { wire, run, state } = await flowing();
      run.signal('SIGINT');
      await run.says(/Stopping normally/);
      run.signal('SIGINT');
      await run.says(/Trip now\./);
      run.signal('SIGINT');
      await run.says(/Waiting until the end state is known/);
      const ended = await run.end();
      expect(ended.code).toBe(3);
      expect(outcomeOf(ended)).toMatchObject({
        outcome: 'tripped',
        endReason: 'trip-now',
        endState: { provenDead: true, plugLocked: true },
        trip: { code: 'trip-now', effect: 'trip-0', part: 'tester' },
      });
      const free = () =>
        loopwarden([
          ...['free-plug', '--rig', wire.rig, '--by', 'tester', '--state', state, '--json'],
          ...['--port', wire.supervisorEnd],
        ]);
      const early = await free();
      expect(early.code).toBe(4);
      const { refusals } = objectOf<{ refusals: { code: string }[] }>(early);
      expect(refusals.map((r) => r.code)).toEqual(expect.arrayContaining(['latched', 'device-latched']));
      expect((await acknowledge(wire, state)).code).toBe(0);
      expect(objectOf<object>(await free())).toMatchObject({ freed: true, refusals: [] });
      wire.close();
    });
  });

  describe.concurrent('a device that comes up latched', () => {
    it('refuses a start until its latch is cleared by name', { timeout: LONG_MS }, async () => {
      const wire = await openWire();
      const state = temporaryFolder();
      await wire.device(['--latched']).says(/Answering/);
      const refused = await wire.run([], state).end();
      expect(refused.code).toBe(4);
      expect(outcomeOf(refused)).toMatchObject({
        outcome: 'refused',
        endReason: 'device-latched',
        refusals: [{ code: 'device-latched', asked: 'start', remedy: expect.stringMatching(/acknowledge/) }],
      });
      expect(wire.last?.device.latched).toBe(1);
      const { privatePem, publicPem } = newKeyPair();
      const keyFile = path.join(temporaryFolder(), 'key.pem');
      writeFileSync(keyFile, privatePem);
      const headFile = path.join(temporaryFolder(), 'head.json');
      const guarded = ['--sign', keyFile, '--head-file', headFile];
      const cleared = await acknowledge(wire, state, guarded);
      expect(cleared).toMatchObject({ code: 0, stderr: '' });
      expect(auditOfNewest(state, publicPem, headFile)).toMatchObject({
        ...{ intact: true, signed: 'valid', headMet: true, diverged: false },
        carriedOut: { order: 'acknowledge', by: 'tester' },
      });
      // Nobody has locked it: freed or refused, it is written down under the same protection.
      await loopwarden([
        ...['free-plug', '--rig', wire.rig, '--by', 'tester', '--state', state, '--json'],
        ...['--port', wire.supervisorEnd, ...guarded],
      ]);
      expect(auditOfNewest(state, publicPem, headFile)).toMatchObject({ signed: 'valid', headMet: true });
      await wire.reports('the latch cleared', (r) => r.device.latched === 0, SAFE_WITHIN_S);
      expect(await wire.run(['--target-energy-kwh', '0.01'], state).end()).toMatchObject({ code: 0 });
      wire.close();
    });
  });
}
