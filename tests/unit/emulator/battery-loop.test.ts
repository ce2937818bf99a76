/** The closed loop of an emulated battery against an instrument made of a few variables. */
import { describe, expect, it } from 'vitest';
import { VirtualClock } from '../../../simulators/virtual-clock.js';
import { BatteryLoop } from '../../../src/emulator/battery-loop.js';
import { EmulatedTrain } from '../../../src/emulator/emulated-train.js';
import type { Found, Readings, Talk, Told, Trouble } from '../../../src/instruments/talk.js';
import { loadLoad, loadRig } from '../../../src/rig/load.js';

const { rig } = loadRig('depot-emulated');
const POLL_MS = 50;
const map = loadLoad('scpi-load', { baud: 115200, pollMs: POLL_MS });
const silent: Trouble = { kind: 'no-answer', value: 80, text: 'no answer within 80 ms' };

const refused: Trouble = { kind: 'scpi-error', value: -222, text: '-222, Data out of range' };

/** Obeys at once; what is read, and what goes wrong, is the test's. */
class Load implements Talk {
  on = false;
  volts = Number.NaN;
  limitA = Number.NaN;
  readonly diary: string[] = [];
  amps = 0;
  offsetV = 0;
  isSilent = false;
  refuses = false;
  isStuck = false;
  /** Called when a voltage was set. */
  onSet: () => void = () => {};

  async open(): Promise<Found> {
    return { model: 'm', serial: '0', firmware: '0', outputWasOn: false };
  }
  async close(): Promise<void> {}
  output(on: boolean, done: Told): void {
    if (!this.isSilent) {
      this.diary.push(on ? 'on' : 'off');
      this.on = on || this.isStuck;
    }
    done(this.isSilent ? silent : null);
  }
  set(limitA: number, volts: number, done: Told): void {
    if (!this.isSilent && !this.refuses) {
      this.limitA = limitA;
      this.volts = volts;
      this.onSet();
    }
    done(this.isSilent ? silent : this.refuses ? refused : null);
  }
  offAtOnce(): void {
    this.diary.push('off at once');
    if (!this.isStuck) this.on = false;
  }
  read(done: (readings: Readings | null, trouble: Trouble | null) => void): void {
    const loadV = this.on ? this.volts + this.offsetV : 0;
    if (this.isSilent) done(null, silent);
    else done({ loadV, loadA: this.on ? this.amps : 0, outputOn: Number(this.on) }, null);
  }
}

function bench() {
  const clock = new VirtualClock();
  const load = new Load();
  const train = new EmulatedTrain(rig, { soc: 0.6, cellC: 25, ambientC: 25, seed: 1 });
  const told: string[] = [];
  const loop = new BatteryLoop({ clock, map, talk: load, train, pollMs: POLL_MS, told: (t) => told.push(t) });
  const pass = (ms: number): void => {
    for (let t = 0; t < ms; t += 10) {
      clock.runUntil(clock.nowMs() + 10);
      train.advanceTo(Math.floor(clock.nowMs()));
    }
  };
  loop.start();
  const close = (): void => {
    train.apply({ name: 'close-train', args: {} });
    for (let raft = 1; raft <= 4; raft++) train.apply({ name: 'join-raft', args: { raft } });
    pass(600);
  };
  return { load, train, told, loop, pass, close };
}

/** 192 cells of the rig's table at 60 %: 3.8064 V each. */
const REST_V = 192 * 3.8064;

describe('the loop of an emulated battery', () => {
  it('is on only when the train is closed with a raft behind it, and holds its voltage at rest', () => {
    const b = bench();
    b.pass(200);
    expect(b.load.diary).toEqual([]);
    b.train.apply({ name: 'close-train', args: {} });
    b.pass(200);
    expect(b.load.on).toBe(false);
    b.close();
    expect(b.load.on).toBe(true);
    expect(b.load.volts).toBeCloseTo(REST_V, 0);
    expect(b.load.limitA).toBe(340);
    expect(b.train.read('train')).toMatchObject({ closedP: 1, closedN: 1 });
  });

  it('rises with the current by the resistance of the rafts, and does not swing', () => {
    const b = bench();
    b.close();
    const restV = b.load.volts;
    b.load.amps = 200;
    const seen: number[] = [];
    for (let i = 0; i < 40; i++) {
      b.pass(POLL_MS);
      seen.push(b.load.volts);
    }
    // Four rafts of 192 × 24 mΩ ÷ 28 + 10 mΩ: 43.6 mΩ together, 8.7 V at once; the slow pairs of the cells on top.
    const ohm = ((192 * 0.024) / 28 + 0.01) / 4;
    expect(seen.at(-1)! - restV).toBeGreaterThan(200 * ohm);
    expect(seen.at(-1)! - restV).toBeLessThan(200 * 2 * ohm);
    for (let i = 1; i < seen.length; i++) expect(seen[i]!).toBeGreaterThanOrEqual(seen[i - 1]! - 0.01);
  });

  it('shares what flows among the rafts, to the ampere', () => {
    const b = bench();
    b.close();
    b.load.amps = 120;
    b.pass(500);
    const total = [1, 2, 3, 4].reduce((sum, raft) => sum + b.train.read('raft', raft).packA, 0);
    expect(total).toBeCloseTo(120, 6);
  });

  it('is off at once when the train is asked open, and open when that was read', () => {
    const b = bench();
    b.close();
    b.train.apply({ name: 'open-train', args: {} });
    b.loop.openNow();
    expect(b.load.diary.at(-1)).toBe('off at once');
    // Off, but not read off yet.
    expect(b.train.read('train').closedP).toBe(1);
    b.pass(2 * POLL_MS);
    expect(b.train.read('train').closedP).toBe(0);
  });

  it('stays off when an order to open comes between setting and switching on', () => {
    const b = bench();
    b.load.onSet = () => {
      b.train.apply({ name: 'open-train', args: {} });
      b.loop.openNow();
    };
    b.close();
    expect(b.load.diary).not.toContain('on');
    expect(b.load.diary).toContain('off at once');
  });

  it.each<[string, (load: Load) => void, RegExp]>([
    ['is silent', (l) => Object.assign(l, { isSilent: true }), /nothing read for 4\d\d ms: no answer/],
    ['refuses', (l) => Object.assign(l, { refuses: true }), /-222, Data out of range/],
    ['holds another voltage', (l) => Object.assign(l, { offsetV: 40 }), /reads [\d.]+ V and was set to/],
    ['carries too much', (l) => Object.assign(l, { amps: 341 }), /it carries 341 A/],
    ['carries it unreadably', (l) => Object.assign(l, { amps: Number.NaN }), /it carries NaN A/],
  ])('gives up when the instrument %s: off, and every raft in alarm', (_, breaks, why) => {
    const b = bench();
    b.close();
    breaks(b.load);
    b.pass(1500);
    expect(b.train.failed).toMatch(why);
    expect(b.told.join()).toMatch(why);
    expect(b.told).toHaveLength(1);
    expect(b.load.on).toBe(false);
    for (let raft = 1; raft <= 4; raft++) expect(b.train.read('raft', raft).alarm).toBe(2);
    // For good.
    Object.assign(b.load, { isSilent: false, refuses: false, offsetV: 0, amps: 0 });
    b.pass(500);
    expect(b.load.on).toBe(false);
  });

  it('does not advance a sample that was not measured', () => {
    const b = bench();
    b.close();
    const before = b.train.read('raft', 1).sample;
    b.load.isSilent = true;
    b.pass(300);
    expect(b.train.read('raft', 1).sample).toBe(before);
    b.load.isSilent = false;
    b.pass(100);
    expect(b.train.read('raft', 1).sample).toBeGreaterThan(before);
    expect(b.train.failed).toBeNull();
  });

  it('says when an output that was ordered off stays on', () => {
    const b = bench();
    b.close();
    b.load.isStuck = true;
    b.train.apply({ name: 'open-train', args: {} });
    b.loop.openNow();
    b.pass(1000);
    expect(b.train.failed).toMatch(/still reads on: KEEP AWAY/);
    expect(b.train.read('train').closedP).toBe(1);
  });

  it('never asks for more volts than the cells may have', () => {
    const b = bench();
    b.close();
    b.load.amps = 330;
    b.train.rafts.forEach((raft) => {
      raft.hold(900);
    });
    expect(b.train.targetV).toBe(192 * 4.2);
  });
});
