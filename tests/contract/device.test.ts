/** The simulated device against PROTOCOL.md: handshake, watchdog, refusals, make-safe. */
import { describe, expect, it } from 'vitest';
import { LATCH_CAUSE } from '../../src/link/frames.js';
import { Bench } from './bench.js';

const ENABLE = { name: 'enable-converter', args: { matchA: 2 } } as const;
const SET = (currentA: number) => ({ name: 'setpoint', args: { currentA, voltageV: 800 } }) as const;
const GRANT = (ceilingA: number, lifeMs = 2000) =>
  ({ name: 'authority', args: { ceilingA, slopeAPerS: 20, lifeMs } }) as const;
const bare = <N extends string>(name: N) => ({ name, args: {} }) as const;

describe('handshake', () => {
  it('welcomes with identity, limits, watchdog and roles, and then reports on a fixed beat', () => {
    const bench = new Bench().hello('11111111');
    expect(bench.welcome).toMatchObject({
      version: 1,
      maxCurrentA: 300,
      maxVoltageV: 900,
      watchdogMs: 300,
      periodMs: 100,
      latched: false,
    });
    expect(bench.welcome?.roles).toContain('raft2');
    bench.pass(1000);
    expect(bench.all('report')).toHaveLength(10);
    const clocks = bench.all('report').map((r) => r.roles.device.clockMs % 100);
    expect(new Set(clocks)).toEqual(new Set([0]));
    expect(Object.keys(bench.report?.roles ?? {})).toContain('stop');
    expect(bench.report?.roles.rafts).toHaveLength(2);
    expect(bench.gate.missing).toBe(0);
  });

  it('says nothing before a session, and answers a repeated hello again', () => {
    const bench = new Bench().pass(500);
    expect(bench.heard).toHaveLength(0);
    bench.hello('11111111');
    bench.send({ ...bench.welcome, verb: 'hello' } as never);
    bench.pass(20);
    expect(bench.all('welcome')).toHaveLength(2);
  });

  it('takes a new session when nothing is energised, without latching', () => {
    const bench = new Bench().hello('11111111').feed().hello('22222222');
    expect(bench.welcome?.latched).toBe(false);
    expect(bench.host.devices[0]?.session).toBe('22222222');
  });

  it('makes safe and latches on a new session while energised', () => {
    const bench = new Bench().charge(0).starve().hello('22222222');
    expect(bench.welcome?.latched).toBe(true);
    expect(bench.tags).toContain(`make-safe:${LATCH_CAUSE['new-session']}`);
    expect(bench.plant.diary.map((d) => d.order.name)).toContain('open-p');
  });

  it('is not opened by the recorded hello of an earlier session', () => {
    const bench = new Bench().hello('11111111').hello('22222222');
    const before = bench.heard.length;
    bench.hello('11111111');
    expect(bench.heard.length).toBe(before);
    expect(bench.host.devices[0]?.session).toBe('22222222');
  });

  it('stays latched through power and sessions until cleared', () => {
    const bench = new Bench({ latched: true }).hello('11111111').feed();
    expect(bench.welcome?.latched).toBe(true);
    expect(bench.order(ENABLE)).toBe('latched@0');
    bench.hello('22222222').feed();
    expect(bench.welcome?.latched).toBe(true);
    expect(bench.order(bare('clear-latch'))).toBe('done');
    expect(bench.order(ENABLE)).toBe('done');
    bench.pass(100);
    expect(bench.report?.roles.device).toMatchObject({ latched: 0, madeSafe: 0 });
  });
});

describe('refusals', () => {
  it('energises nothing without feed frames', () => {
    const bench = new Bench().hello('11111111');
    expect(bench.order(ENABLE)).toBe('not-permitted@0');
    expect(bench.order(bare('lock'))).toBe('done');
    bench.feed().starve().pass(400);
    expect(bench.order(bare('close-p'))).toBe('not-permitted@0');
  });

  it('holds set-points to match current, authority and hard limits', () => {
    const bench = new Bench().hello('11111111').feed();
    expect(bench.order(SET(1))).toBe('not-permitted@0');
    expect(bench.order(ENABLE, SET(2))).toBe('done');
    expect(bench.order(SET(2.01))).toBe('no-authority@0');
    expect(bench.order(GRANT(301))).toBe('not-permitted@0');
    expect(bench.order(GRANT(100, 0))).toBe('bad-argument@0');
    expect(bench.order(GRANT(100), SET(100))).toBe('done');
    expect(bench.order(SET(101))).toBe('no-authority@0');
    expect(bench.order({ name: 'setpoint', args: { currentA: 1, voltageV: 901 } })).toBe('not-permitted@0');
  });

  it('lets the set-point go to zero when the authority runs out', () => {
    const bench = new Bench().hello('11111111').feed();
    bench.order(ENABLE, GRANT(100, 500), SET(80));
    const at = bench.clock.nowMs();
    bench.pass(700);
    expect(bench.tags).toContain('authority-expired:8000');
    expect(bench.plant.since(at).map((e) => e.split(' ')[1])).toEqual(['setpoint:0', 'authority:0']);
    expect(bench.order(SET(80))).toBe('no-authority@0');
    expect(bench.host.devices[0]?.latched).toBe(false);
  });

  it('answers what it does not know, and carries out nothing after a failed order', () => {
    const bench = new Bench({ roles: ['contactor', 'latch', 'raft1'] }).hello('11111111').feed();
    expect(bench.order(bare('lock'), ENABLE, bare('close-p'))).toBe('unknown-order@1');
    expect(bench.plant.diary.map((d) => d.order.name)).toEqual(['lock']);
    expect(bench.order({ name: 'join-raft', args: { raft: 2 } })).toBe('bad-argument@0');
    expect(bench.order({ name: 'join-raft', args: { raft: 1 } })).toBe('done');
  });

  it('frees no plug that is live, and bleeds no pack', () => {
    const bench = new Bench().charge(0);
    expect(bench.order(bare('unlock'))).toBe('not-permitted@0');
    expect(bench.order({ name: 'bleed-output', args: { on: 1 } })).toBe('not-permitted@0');
    expect(bench.order({ name: 'bleed-plug', args: { on: 1 } })).toBe('not-permitted@0');
  });

  it('takes nothing without a session, nothing twice, and counts it', () => {
    const bench = new Bench();
    bench.nonce = '33333333';
    expect(bench.order(bare('lock'))).toBe('silence');
    bench.hello('11111111').feed();
    bench.link.send('rubbish');
    bench.pass(200);
    expect(bench.report?.roles.device.rejectedFrames).toBe(1);
  });
});

describe('bleeders', () => {
  it('are switched off at their time limit, and at their energy limit', () => {
    const slow = new Bench().hello('11111111').feed();
    slow.plant.outputV = 100;
    slow.order({ name: 'bleed-output', args: { on: 1 } });
    slow.pass(4900);
    expect(slow.tags).not.toContain('bleed-abort:1');
    slow.pass(200);
    expect(slow.tags).toContain('bleed-abort:1');
    const hot = new Bench().hello('11111111').feed();
    hot.plant.outputV = 800; // 3.2 kW: ten kilojoules in 3.1 s
    hot.order({ name: 'bleed-output', args: { on: 1 } });
    hot.pass(3000);
    expect(hot.tags).not.toContain('bleed-abort:1');
    hot.pass(300);
    expect(hot.tags).toContain('bleed-abort:1');
  });
});

describe('meter', () => {
  it('keeps its minimum and maximum over readings the firmware took for itself', () => {
    const bench = new Bench().charge(200);
    bench.pass(60);
    bench.plant.currentA = 260;
    bench.pass(10);
    bench.order(bare('make-safe')); // reads the meter every ms from here
    bench.plant.currentA = 200;
    bench.pass(100);
    const peaks = bench.all('report').map((r) => r.roles.meter?.currentMaxA);
    expect(Math.max(...(peaks as number[]))).toBe(260);
  });
});

describe('waveform', () => {
  it('arrives in parts between the reports and is whole', () => {
    const bench = new Bench().hello('11111111').feed();
    expect(bench.order(bare('waveform'))).toBe('done');
    bench.pass(2000);
    const parts = bench.all('wave');
    expect(parts.map((p) => p.part)).toEqual(Array.from({ length: parts[0]?.parts ?? 0 }, (_, i) => i + 1));
    expect(parts.flatMap((p) => [...p.samplesA])).toHaveLength(200);
    expect(parts[0]).toMatchObject({ spacingNs: 100_000 });
    expect(bench.gate.missing).toBe(0);
  });
});
