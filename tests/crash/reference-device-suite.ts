/** The device in C (simulators/reference-device) on a pseudo-terminal, in real time: a session, and how it is lost. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { outcomeOf, Process, temporaryFolder } from '../cli/process.js';
import { COMPILER, referenceDevice, UNLESS_BUILT } from '../cli/reference-device.js';
import { madeSafe, openWire } from '../cli/wire.js';
import { durability, ofKind, readJournal } from './read-journal.js';

const LONG = { timeout: 150_000 };
const SAFE_WITHIN_S = 20;
/** What the device drives, as it writes it down itself. */
const DROPPED = /converter=0 p=0 n=0 pre=0 train=0 .* locked=1 latched=1$/;

async function wired() {
  const wire = await openWire();
  const trace = path.join(temporaryFolder(), 'trace');
  const device = new Process([wire.deviceEnd, '--trace', trace], { program: referenceDevice() });
  await device.says(/Answering/);
  const driven = () => readFileSync(trace, 'utf8').trimEnd().split('\n');
  return { wire, device, driven };
}

export function referenceDeviceSessions(): void {
  describe.skipIf(COMPILER === undefined).concurrent(`in C${UNLESS_BUILT}`, () => {
    it('completes a session, and the record of it holds', LONG, async () => {
      const { wire, device, driven } = await wired();
      const ended = await wire.run(['--target-energy-kwh', '0.03']).end();
      expect(ended).toMatchObject({ code: 0, stderr: '' });
      const outcome = outcomeOf(ended);
      expect(outcome).toMatchObject({
        outcome: 'released',
        endReason: 'target',
        endState: { provenDead: true, plugLocked: false },
        trip: null,
        refusals: [],
      });
      expect(outcome.peakCurrentA).toBeGreaterThan(20);
      const audit = new Audit({ software: SOFTWARE });
      audit.feed(readFileSync(outcome.journal));
      expect(audit.end()).toMatchObject({ row: 'clean', diverged: false, invariantsBroken: [] });
      const { lines } = readJournal(outcome.journal);
      expect(durability(lines).wrong).toEqual([]);
      expect(ofKind(lines, 'dropped')).toEqual([]);
      // By its own account as well: everything off, the plug freed, nothing latched.
      expect(driven().some((line) => line.includes('converter=1 p=1 n=1 pre=0 train=1'))).toBe(true);
      expect(driven().at(-1)).toMatch(/converter=0 p=0 n=0 pre=0 train=0 .* locked=0 latched=0$/);
      device.signal('SIGTERM');
      await device.end(10);
      wire.close();
    });

    it('is missed when it is killed: the session trips by silence', LONG, async () => {
      const { wire, device } = await wired();
      const run = wire.run();
      await wire.flows(run);
      device.signal('SIGKILL');
      const ended = await run.end();
      expect(ended).toMatchObject({ code: 9, stderr: '' });
      expect(outcomeOf(ended)).toMatchObject({
        outcome: 'tripped',
        endState: { provenDead: false, polesProvenOpen: false },
        trip: { code: expect.stringMatching(/^(link-silent|reading-stale|raft-silent)$/), phase: 'ramping' },
      });
      wire.close();
    });

    it('drops its output by its own watchdog when the supervisor stands still', LONG, async () => {
      const { wire, device, driven } = await wired();
      const run = wire.run();
      await wire.flows(run);
      expect(driven().at(-1)).toContain('converter=1 p=1 n=1 pre=0 train=1');
      run.signal('SIGSTOP');
      // Its reports go on; nobody orders anything here.
      await wire.reports('the device safe by itself', madeSafe, SAFE_WITHIN_S);
      run.signal('SIGCONT');
      const ended = await run.end();
      expect(ended.code).toBe(3);
      expect(outcomeOf(ended)).toMatchObject({
        outcome: 'tripped',
        endReason: expect.stringMatching(/^(device-made-safe|link-silent|reading-stale)$/),
        endState: { provenDead: true, plugLocked: true },
      });
      expect(driven().at(-1)).toMatch(DROPPED);
      device.signal('SIGTERM');
      await device.end(10);
      wire.close();
    });
  });
}
