/** The joined network: two positions measured as asked, the figures, stored charge, and when it starts anew. */
import { describe, expect, it } from 'vitest';
import { isolationLive } from '../../../src/checks/isolation-live.js';
import { Run, Scene } from './build.js';
import { type Leaks, Poles } from './network.js';

const SOUND: Leaks = { positiveOhm: 2e6, negativeOhm: 2e6, capacitanceF: 240e-9 };

function live(leaks: Leaks, reports: number, scene = new Scene().charging(0, 'joining-train')) {
  const poles = new Poles(720, leaks);
  const run = new Run(isolationLive, scene);
  const asked: number[] = [];
  const step = (s: Scene): void => {
    const ask = run.last.ask ?? { point: 0, resistor: 0 };
    if (ask.point !== s.isolation.point || ask.resistor !== s.isolation.resistor) {
      Object.assign(s.isolation, ask);
      s.order('isolation', { isolationPoint: ask.point, isolationResistor: ask.resistor });
      asked.push(ask.resistor);
    }
    poles.step(s, 50);
  };
  run.reports(reports, step);
  return { run, poles, asked, step };
}

describe('isolation of the live network', () => {
  it('switches the resistor to positive, negative and off, and proves', () => {
    const { run, asked } = live(SOUND, 40);
    expect(asked.slice(0, 4)).toEqual([0, 1, 2, 0]);
    expect(run.proofs).toEqual(['isolation-joined']);
    const ohm = run.finding('isolation-low').reading;
    expect(ohm).toBeLessThan(2e6);
    expect(ohm).toBeGreaterThan(1.6e6);
  });
  it.each([
    ['P', 50e3, 2e6],
    ['N', 2e6, 50e3],
    ['both', 60e3, 60e3],
  ])('finds the leak of %s', (part, positiveOhm, negativeOhm) => {
    const { run } = live({ ...SOUND, positiveOhm, negativeOhm }, 40);
    expect(run.failing).toEqual([`isolation-low/${part}`]);
    const lower = Math.min(positiveOhm, negativeOhm);
    expect(Math.abs(run.finding('isolation-low').reading / lower - 1)).toBeLessThan(0.05);
    expect(run.proofs).toEqual([]);
  });
  it('estimates the stored charge: 240 nF at 720 V pass, 1 µF do not (0.2 J, W6 scaled to 720 V)', () => {
    const sound = live(SOUND, 40).run.finding('stored-charge');
    expect(Math.abs(sound.reading / (0.5 * 240e-9 * 720 ** 2) - 1)).toBeLessThan(0.25);
    const { run } = live({ ...SOUND, capacitanceF: 1e-6 }, 60);
    expect(run.failing).toEqual(['stored-charge']);
    expect(Math.abs(run.finding('stored-charge').reading / (0.5 * 1e-6 * 720 ** 2) - 1)).toBeLessThan(0.15);
  });
  it('waits for a raft on the bus and starts anew when another joins', () => {
    const scene = new Scene().charging(0, 'joining-train');
    for (const r of scene.rafts) r.joined = 0;
    const { run, step } = live(SOUND, 20, scene);
    expect(run.last.ask).toBeUndefined();
    scene.rafts[0]!.joined = 1;
    run.reports(40, step);
    expect(run.proofs).toEqual(['isolation-joined']);
    scene.rafts[1]!.joined = 1;
    expect(run.reports(1, step).proofs).toEqual([]);
    expect(run.reports(40, step).proofs).toEqual(['isolation-joined']);
  });
  it('measures at once when the balance shifts, long before its turn', () => {
    const scene = new Scene().charging(200);
    const { run, poles, step } = live(SOUND, 40, scene);
    run.reports(90, step);
    expect(run.failing).toEqual([]);
    poles.leaks = { ...SOUND, positiveOhm: 20e3 };
    run.reports(40, step);
    expect(run.failing).toEqual(['isolation-low/P']);
  });
  it('is unproven when the device does not do as asked', () => {
    const run = new Run(isolationLive, new Scene().charging(200)).reports(130);
    expect(run.failing).toEqual(['isolation-unproven/joined']);
  });
});
