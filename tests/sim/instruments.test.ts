/** Sessions through adapters, with everything that can go wrong between an adapter and its instrument. */
import { describe, expect, it } from 'vitest';
import type { InstrumentFault, InstrumentFaultName } from '../../simulators/peers/peer.js';
import { Audit } from '../../src/audit/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { loadRig } from '../../src/rig/load.js';
import { runInstruments } from './instrument-bench.js';

const loaded = loadRig('depot-instruments');
const { link } = loaded.rig;
/** At the hold point, with current flowing. */
const AFTER_S = 2;
const inRamp = (fault: InstrumentFaultName, durationS?: number): InstrumentFault[] => [
  { fault, phase: 'ramping', afterS: AFTER_S, ...(durationS === undefined ? {} : { durationS }) },
];
/** What a silence may take: the deadline, the half of it between two looks, the round that was under way. */
const SILENCE_MS = 1.5 * link.silenceMs + 100;

describe('a session with a source and a meter on SCPI', () => {
  it('is released, and its record is decided anew the same', async () => {
    const run = await runInstruments(loaded);
    expect(run).toMatchObject({ exit: 0, fault: null, told: [] });
    expect(run.outcome).toMatchObject({ outcome: 'released', endReason: 'target', trip: null });
    expect(run.outcome.peakCurrentA).toBeGreaterThan(50);
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(Buffer.from(`${run.lines.map((l) => JSON.stringify(l)).join('\n')}\n`));
    expect(audit.end()).toMatchObject({ row: 'clean', diverged: false, invariantsBroken: [] });
    // The record says which maps were used.
    expect(JSON.stringify(run.lines[1])).toContain('SYST:COMM:WATC');
  });

  it.each([
    ['source', 'silent'],
    ['meter', 'answers-twice'],
    ['source', 'garbage'],
  ] as const)('bears one answer of the %s that is wrong: %s', async (port, fault) => {
    const run = await runInstruments(loaded, { [port]: inRamp(fault, 0.06) });
    expect(run.outcome).toMatchObject({ outcome: 'released', trip: null });
    expect(run.tags(port).length).toBeGreaterThan(0);
  });
});

describe('an instrument that is lost while current flows', () => {
  it.each([
    ['source', 'unplugged', 'link-silent', 3],
    // Without a meter nothing is proven dead.
    ['meter', 'unplugged', 'link-silent', 9],
    ['source', 'silent', 'reading-stale', 3],
    ['meter', 'silent', 'reading-stale', 9],
  ] as const)('%s %s: %s, exit %i, in time', async (port, fault, code, exit) => {
    const run = await runInstruments(loaded, { [port]: inRamp(fault) });
    expect(run.outcome.trip).toMatchObject({ code, phase: 'ramping', effect: 'trip-0' });
    expect(run.exit).toBe(exit);
    const ms = run.tripAfter('ramping', AFTER_S);
    expect(ms).toBeGreaterThan(0);
    expect(ms).toBeLessThan(SILENCE_MS);
    // The source is off, whoever was lost: told, or by its own communication watchdog.
    expect(run.bench.parts.converter.enabled).toBe(false);
  });
});

describe('an instrument that answers wrongly', () => {
  it.each([
    ['meter', 'overload', 'over-voltage', 'overload'],
    ['source', 'overload', 'current-too-steep', 'overload'],
    ['source', 'sets-nothing', 'order-rejected', 'scpi-error'],
    ['source', 'answers-twice', 'reading-stale', 'bad-answer'],
    ['meter', 'answers-twice', 'reading-stale', 'bad-answer'],
    ['source', 'garbage', 'reading-stale', 'bad-answer'],
    ['meter', 'garbage', 'reading-stale', 'bad-answer'],
    ['source', 'answers-late', 'reading-stale', 'no-answer'],
  ] as const)('%s %s: %s, named %s in the record', async (port, fault, code, tag) => {
    const run = await runInstruments(loaded, { [port]: inRamp(fault) });
    expect(run.outcome.trip).toMatchObject({ code, phase: 'ramping' });
    expect(run.tags(port)).toContain(tag);
    expect(run.told.find((t) => t.port === port)?.text).toBeTruthy();
    expect(run.tripAfter('ramping', AFTER_S)).toBeLessThan(SILENCE_MS);
    expect(run.bench.parts.converter.enabled).toBe(false);
    // Whatever it answers, no more flows than was ordered.
    expect(run.outcome.peakCurrentA).toBeLessThan(32);
  });

  it('says which command was refused, with the words of the instrument', async () => {
    const run = await runInstruments(loaded, { source: inRamp('sets-nothing') });
    expect(run.told[0]?.text).toMatch(/^SOUR:VOLT [\d.]+; SOUR:CURR 30\.00: -221, Settings conflict$/);
  });
});

describe('a source that does not switch off', () => {
  it('is ordered again and again, named, and the session trips and opens the poles', async () => {
    const run = await runInstruments(loaded, {
      source: [{ fault: 'wont-switch-off', phase: 'ramping', afterS: 0 }],
    });
    expect(run.outcome.trip).toMatchObject({ code: 'order-unanswered', part: 'source: disable-converter' });
    expect(run.tags('source').filter((t) => t === 'not-off').length).toBeGreaterThan(1);
    // It never said that it was made safe.
    expect(run.tags('source')).not.toContain('safe-end');
    expect(run.outcome.endState.polesProvenOpen).toBe(true);
    expect(run.bench.parts.converter.enabled).toBe(true);
  });
});

describe('a session with a power module on Modbus RTU', () => {
  const module = loadRig('depot-module');
  it('is released', async () => {
    const run = await runInstruments(module);
    expect(run).toMatchObject({ exit: 0, fault: null, told: [] });
    expect(run.outcome).toMatchObject({ outcome: 'released', endReason: 'target' });
    expect(run.outcome.peakCurrentA).toBeGreaterThan(50);
  });

  it.each(['silent', 'wrong-crc'] as const)('bears one answer that is wrong: %s', async (fault) => {
    const run = await runInstruments(module, { module: inRamp(fault, 0.06) });
    expect(run.outcome).toMatchObject({ outcome: 'released', trip: null });
    expect(run.tags('module').length).toBeGreaterThan(0);
  });

  it.each([
    ['unplugged', 'link-silent', null],
    ['silent', 'reading-stale', 'no-answer'],
    ['wrong-crc', 'reading-stale', 'bad-crc'],
    ['garbage', 'reading-stale', 'bad-crc'],
    ['answers-twice', 'reading-stale', 'bad-answer'],
    ['answers-late', 'reading-stale', 'no-answer'],
    ['exception', 'order-rejected', 'modbus-exception'],
    ['overload', 'current-too-steep', 'overload'],
  ] as const)('%s: %s, named %s in the record, in time and proven safe', async (fault, code, tag) => {
    const run = await runInstruments(module, { module: inRamp(fault) });
    expect(run.outcome.trip).toMatchObject({ code, phase: 'ramping' });
    expect(run.exit).toBe(3);
    if (tag !== null) expect(run.tags('module')).toContain(tag);
    const ms = run.tripAfter('ramping', AFTER_S);
    expect(ms).toBeGreaterThan(0);
    expect(ms).toBeLessThan(SILENCE_MS);
    expect(run.outcome.peakCurrentA).toBeLessThan(32);
  });

  it('says which exception it was, and of which register', async () => {
    const run = await runInstruments(module, { module: inRamp('exception') });
    expect(run.told[0]?.text).toBe('writing 515: exception 3, illegal data value');
  });
});
