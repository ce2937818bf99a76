/**
 * What every device must keep (src/link/PROTOCOL.md), seen from the line alone: handshake, refusals, bleeders,
 * bursts. Run against the simulated device and the reference device in C. Its make-safe sequence and its
 * watchdog are in make-safe.contract.ts.
 */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { encodeToDevice } from '../../src/link/codec.js';
import { LATCH_CAUSE } from '../../src/link/frames.js';
import { ROOT } from '../cli/process.js';
import type { Bench, BenchOptions } from './bench.js';

export const ENABLE = { name: 'enable-converter', args: { matchA: 2 } } as const;
export const SET = (currentA: number, voltageV = 800) =>
  ({ name: 'setpoint', args: { currentA, voltageV } }) as const;
export const GRANT = (ceilingA: number, lifeMs = 2000) =>
  ({ name: 'authority', args: { ceilingA, slopeAPerS: 20, lifeMs } }) as const;
export const bare = <N extends string>(name: N) => ({ name, args: {} }) as const;

/** Benches of one device, closed behind each test. */
export function benches(make: (options?: BenchOptions) => Bench): (options?: BenchOptions) => Bench {
  const open: Bench[] = [];
  afterEach(() => {
    for (const bench of open.splice(0)) bench.close();
  });
  return (options) => {
    const bench = make(options);
    open.push(bench);
    return bench;
  };
}

export function deviceContract(name: string, make: (options?: BenchOptions) => Bench): void {
  describe(`device contract: ${name}: handshake`, () => {
    const fresh = benches(make);

    it('welcomes with identity, limits, watchdog and roles, and then reports on a fixed beat', () => {
      const bench = fresh().hello('11111111');
      const { maxCurrentA, maxVoltageV } = bench.figures;
      expect(bench.welcome).toMatchObject({
        version: 1,
        maxCurrentA,
        maxVoltageV,
        watchdogMs: 300,
        periodMs: 100,
        latched: false,
      });
      expect(bench.welcome?.roles).toContain('raft2');
      bench.pass(1000);
      const reports = bench.all('report');
      expect(reports).toHaveLength(10);
      expect(new Set(reports.map((r) => r.roles.device.clockMs % 100)).size).toBe(1);
      const samples = reports.map((r) => r.roles.meter?.sample ?? Number.NaN);
      expect(samples.every((n, i) => i === 0 || n > (samples[i - 1] as number))).toBe(true);
      expect(Object.keys(bench.report?.roles ?? {})).toContain('stop');
      expect(bench.report?.roles.rafts).toHaveLength(2);
      expect(bench.gate.missing).toBe(0);
    });

    it('says nothing before a session, and answers a repeated hello again', () => {
      const bench = fresh().pass(500);
      expect(bench.lines).toHaveLength(0);
      bench.hello('11111111').helloAgain();
      expect(bench.all('welcome')).toHaveLength(2);
      expect(bench.gate.missing).toBe(0);
    });

    it('answers another version with its own, and a period and watchdog it cannot have with others', () => {
      const bench = fresh().hello('11111111');
      const hello = { verb: 'hello', maxCurrentA: 1, maxVoltageV: 1, roles: ['stop'] } as const;
      const asked = (version: number, periodMs: number, watchdogMs: number, nonce: string) => {
        bench.hello(nonce);
        bench.write(encodeToDevice(`${nonce.slice(1)}f`, 1, { ...hello, version, periodMs, watchdogMs }));
        bench.pass(20);
        const line = bench.lines.filter((l) => l.includes('welcome')).at(-1) ?? '';
        return / lw:\d+ /.exec(line)?.[0] + (/wd:\d+ per:\d+/.exec(line)?.[0] ?? '');
      };
      expect(asked(2, 100, 300, '22222222')).toBe(' lw:1 wd:300 per:100');
      expect(asked(1, 2, 5, '33333333')).toBe(' lw:1 wd:30 per:10');
      expect(asked(1, 9000, 9000, '44444444')).toBe(' lw:1 wd:1000 per:500');
      expect(asked(1, 100, 299, '55555555')).toBe(' lw:1 wd:300 per:100');
    });

    it('takes a new session when nothing is energised, without latching, and forgets the one before', () => {
      const bench = fresh().hello('11111111').feed().hello('22222222').feed();
      expect(bench.welcome?.latched).toBe(false);
      expect(bench.order(ENABLE)).toBe('done');
      bench.nonce = '11111111';
      expect(bench.order(bare('lock'))).toBe('silence');
    });

    it('gives no authority of one session to the next', () => {
      const bench = fresh().hello('11111111').feed();
      expect(bench.order(GRANT(100))).toBe('done');
      bench.hello('22222222').feed();
      expect(bench.order(ENABLE, SET(50))).toBe('no-authority@1');
    });

    it('makes safe and latches on a new session while energised', () => {
      const bench = fresh().charge(0).starve().hello('22222222');
      expect(bench.welcome?.latched).toBe(true);
      expect(bench.tags).toContain(`make-safe:${LATCH_CAUSE['new-session']}`);
      expect(bench.heard[0]?.verb).toBe('welcome');
      expect(bench.pass(1000).report?.roles.contactor).toMatchObject({ closedP: 0, closedN: 0 });
      // The burst of a latch, whatever it latched for.
      const wave = bench.all('wave');
      expect(wave.map((w) => w.re)).toEqual(wave.map(() => 0));
      expect(wave.flatMap((w) => [...w.samplesA])).toHaveLength(bench.figures.waveSamples);
    });

    it('is not opened by the recorded hello of an earlier session', () => {
      const bench = fresh().hello('11111111').hello('22222222');
      const before = bench.lines.length;
      bench.hello('11111111').pass(200);
      const said = bench.lines.slice(before);
      expect(said.length).toBeGreaterThan(0);
      expect(said.every((line) => line.startsWith('<22222222'))).toBe(true);
    });

    it('stays latched through power and sessions until cleared', () => {
      const bench = fresh({ latched: true }).hello('11111111').feed();
      expect(bench.welcome?.latched).toBe(true);
      expect(bench.order(ENABLE)).toBe('latched@0');
      bench.hello('22222222').feed();
      expect(bench.welcome?.latched).toBe(true);
      expect(bench.report?.roles.device).toMatchObject({ latched: 1, madeSafe: 0 });
      expect(bench.order(bare('clear-latch'))).toBe('done');
      expect(bench.order(ENABLE)).toBe('done');
      expect(bench.report?.roles.device).toMatchObject({ latched: 0, madeSafe: 0 });
    });

    it('takes nothing without a session, nothing twice, and counts it', () => {
      const bench = fresh();
      bench.nonce = '33333333';
      expect(bench.order(bare('lock'))).toBe('silence');
      bench.hello('11111111').feed();
      const order = encodeToDevice('11111111', 100, { verb: 'order', orders: [bare('lock')] });
      for (const line of ['rubbish', order, order]) bench.write(line);
      bench.pass(20);
      expect(bench.all('answer').filter((a) => a.re === 100)).toHaveLength(1);
      expect(bench.report?.roles.device.rejectedFrames).toBe(2);
    });

    it('turns away what the page says is turned away', () => {
      const page = readFileSync(path.join(ROOT, 'src/link/PROTOCOL.md'), 'utf8');
      const [, block = ''] = /vectors-turned-away -->\n```\n([\s\S]*?)```/.exec(page) ?? [];
      const vectors = block.trim().split('\n');
      expect(vectors.length).toBeGreaterThan(5);
      const bench = fresh().hello('5eed0001');
      for (const vector of vectors) bench.write(vector.replace(/^\S+ +/, ''));
      expect(bench.report?.roles.device.rejectedFrames).toBe(vectors.length);
    });
  });

  describe(`device contract: ${name}: refusals`, () => {
    const fresh = benches(make);

    it('energises nothing without feed frames', () => {
      const bench = fresh().hello('11111111');
      expect(bench.order(ENABLE)).toBe('not-permitted@0');
      expect(bench.order(bare('lock'))).toBe('done');
      bench.feed().starve().pass(400);
      for (const order of [bare('close-p'), bare('close-n'), bare('close-train'), ENABLE])
        expect(bench.order(order)).toBe('not-permitted@0');
      expect(bench.order({ name: 'join-raft', args: { raft: 1 } })).toBe('not-permitted@0');
    });

    it('holds set-points to match current, authority and hard limits', () => {
      const bench = fresh().hello('11111111').feed();
      const { maxCurrentA, maxVoltageV } = bench.figures;
      expect(bench.order(SET(1))).toBe('not-permitted@0');
      expect(bench.order(SET(0))).toBe('done');
      expect(bench.order(ENABLE, SET(2))).toBe('done');
      expect(bench.order(SET(2.01))).toBe('no-authority@0');
      expect(bench.order(GRANT(maxCurrentA + 1))).toBe('not-permitted@0');
      expect(bench.order(GRANT(100, 0))).toBe('bad-argument@0');
      expect(bench.order(GRANT(100, 60_001))).toBe('bad-argument@0');
      expect(bench.order(GRANT(100), SET(100))).toBe('done');
      expect(bench.order(SET(101))).toBe('no-authority@0');
      expect(bench.order(SET(1, maxVoltageV + 1))).toBe('not-permitted@0');
    });

    it('lets the set-point go to zero when the authority runs out', () => {
      const bench = fresh().hello('11111111').feed();
      bench.order(ENABLE, GRANT(100, 500), SET(80));
      bench.pass(700);
      expect(bench.tags).toContain('authority-expired:8000');
      expect(bench.order(SET(80))).toBe('no-authority@0');
      expect(bench.report?.roles.device.latched).toBe(0);
    });

    it('keeps a standing set-point when enabled once more, and draws it down with a lower ceiling', () => {
      const bench = fresh().hello('11111111').feed();
      bench.order(ENABLE, GRANT(100), SET(80));
      expect(bench.order(ENABLE, GRANT(50, 500))).toBe('done');
      bench.pass(700);
      expect(bench.tags.filter((t) => t.startsWith('authority-expired'))).toEqual(['authority-expired:5000']);
    });

    it('forgets authority and set-point when the converter is switched off', () => {
      const bench = fresh().hello('11111111').feed();
      bench.order(ENABLE, GRANT(100, 500), SET(80));
      expect(bench.order(bare('disable-converter'), ENABLE, SET(3))).toBe('no-authority@2');
      bench.pass(700);
      expect(bench.tags.join()).not.toContain('authority-expired');
    });

    it('answers what it does not know, and carries out nothing after a failed order', () => {
      const bench = fresh({ roles: ['contactor', 'latch', 'raft1'] })
        .hello('11111111')
        .feed();
      expect(bench.order(bare('lock'), ENABLE, bare('close-p'))).toBe('unknown-order@1');
      expect(bench.report?.roles.contactor?.closedP).toBe(0);
      expect(bench.order({ name: 'join-raft', args: { raft: 2 } })).toBe('bad-argument@0');
      expect(bench.order({ name: 'join-raft', args: { raft: 1 } })).toBe('done');
      expect(bench.order({ name: 'isolate', args: { point: 1, resistor: 0 } })).toBe('unknown-order@0');
    });

    it('knows no pre-charge contactor where none is fitted', () => {
      const bench = fresh().hello('11111111').feed();
      expect(bench.order(bare('close-pre'))).toBe('unknown-order@0');
      expect(bench.order(bare('open-pre'))).toBe('done');
      expect(bench.report?.roles.contactor?.closedPre).toBeNaN();
    });

    it('refuses arguments outside what an order can take', () => {
      const bench = fresh().hello('11111111').feed();
      expect(bench.order({ name: 'bleed-plug', args: { on: 2 } })).toBe('bad-argument@0');
      expect(bench.order({ name: 'pilot', args: { on: 2 } })).toBe('bad-argument@0');
      expect(bench.order({ name: 'isolate', args: { point: 4, resistor: 0 } })).toBe('bad-argument@0');
      expect(bench.order({ name: 'isolate', args: { point: 3, resistor: 3 } })).toBe('bad-argument@0');
      expect(bench.order({ name: 'isolate', args: { point: 3, resistor: 2 } })).toBe('done');
    });

    it('frees no plug that is live, and bleeds no pack', () => {
      const bench = fresh().charge(0);
      expect(bench.order(bare('unlock'))).toBe('not-permitted@0');
      expect(bench.order({ name: 'bleed-output', args: { on: 1 } })).toBe('not-permitted@0');
      expect(bench.order({ name: 'bleed-plug', args: { on: 1 } })).toBe('not-permitted@0');
      bench.order(bare('open-p'), bare('open-n'), bare('open-train'), bare('disable-converter'));
      bench.see({ plugV: 60 });
      expect(bench.order(bare('unlock'))).toBe('not-permitted@0');
      bench.see({ plugV: Number.NaN });
      expect(bench.order(bare('unlock'))).toBe('not-permitted@0');
      bench.see({ plugV: 59 });
      expect(bench.order(bare('unlock'))).toBe('done');
    });
  });

  describe(`device contract: ${name}: bleeders, meter and bursts`, () => {
    const fresh = benches(make);

    it('switches a bleeder off at its time limit, and at its energy limit', () => {
      const slow = fresh().hello('11111111').feed();
      const { bleederMaxOnS, bleederMaxJ, outputBleederOhm } = slow.figures;
      slow.see({ outputV: 100 });
      slow.order({ name: 'bleed-output', args: { on: 1 } });
      slow.pass(1000 * bleederMaxOnS - 100);
      expect(slow.tags).not.toContain('bleed-abort:1');
      slow.pass(200);
      expect(slow.tags).toContain('bleed-abort:1');
      const hot = fresh().hello('11111111').feed();
      hot.see({ outputV: Math.sqrt((bleederMaxJ * outputBleederOhm) / 3) }); // all of it in 3 s
      hot.order({ name: 'bleed-output', args: { on: 1 } });
      hot.pass(2900);
      expect(hot.tags).not.toContain('bleed-abort:1');
      hot.pass(200);
      expect(hot.tags).toContain('bleed-abort:1');
    });

    it('keeps its minimum and maximum over all samples, those of the firmware too', () => {
      const bench = fresh().charge(200);
      bench.pass(60);
      bench.see({ currentA: 260 }).pass(10);
      bench.order(bare('make-safe'));
      bench.see({ currentA: 200 }).pass(200);
      const peaks = bench.all('report').map((r) => r.roles.meter?.currentMaxA ?? Number.NaN);
      expect(Math.max(...peaks)).toBe(260);
      expect(peaks.at(-1)).toBe(200);
    });

    it('sends a burst in parts between the reports, whole', () => {
      const bench = fresh().hello('11111111').feed();
      expect(bench.order(bare('waveform'))).toBe('done');
      const re = bench.all('answer').at(-1)?.re;
      bench.pass(2000);
      const parts = bench.all('wave');
      expect(parts.map((p) => p.part)).toEqual(Array.from({ length: parts[0]?.parts ?? 0 }, (_, i) => i + 1));
      expect(parts.every((p) => p.re === re)).toBe(true);
      expect(parts.flatMap((p) => [...p.samplesA])).toHaveLength(bench.figures.waveSamples);
      expect(parts[0]).toMatchObject({ spacingNs: bench.figures.waveSpacingNs });
      expect(bench.gate.missing).toBe(0);
    });
  });
}
