/** Charger and cable side by injection: order of asking, settling, verdict, time limit. */
import { describe, expect, it } from 'vitest';
import { isolationDead } from '../../../src/checks/isolation-dead.js';
import { Run, Scene } from './build.js';

/** A device that obeys the ask with one report of delay and injects into this parallel resistance. */
function measured(parallelOhm: { charger: number; cable: number }, reports: number) {
  const scene = new Scene().enter('checking-isolation');
  const run = new Run(isolationDead, scene);
  const asked: number[] = [];
  let volts = 0;
  run.reports(reports, (s) => {
    const ask = run.last.ask?.point ?? 0;
    if (ask !== s.isolation.point) {
      s.isolation.point = ask;
      s.isolation.injecting = ask === 0 ? 0 : 1;
      volts = 0;
      asked.push(ask);
    }
    const ohm = ask === 1 ? parallelOhm.charger : parallelOhm.cable;
    const { injectionV, injectionOhm, meterOhm } = s.rig.isolation;
    const seenOhm = 1 / (1 / ohm + 2 / meterOhm);
    const restV = (injectionV * seenOhm) / (seenOhm + injectionOhm / 2);
    volts = ask === 0 ? Number.NaN : restV + (volts - restV) * Math.exp(-50 / 20);
    s.isolation.positiveV = volts;
    s.isolation.negativeV = volts;
  });
  return { run, asked };
}

describe('isolation of dead sides', () => {
  it('asks for charger, cable, off, and proves both', () => {
    const { run, asked } = measured({ charger: 1.5e6, cable: 2e6 }, 40);
    expect(asked).toEqual([1, 2, 0]);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['isolation-dead']);
    expect(run.finding('isolation-low', 'charger').reading).toBeCloseTo(0.99 * 1.5e6, -5);
  });
  it('keeps the proof while the train joins, and not after a new session began', () => {
    const { run } = measured({ charger: 1.5e6, cable: 2e6 }, 40);
    run.scene.enter('joining-train');
    expect(run.reports(1).proofs).toEqual(['isolation-dead']);
    run.scene.enter('parked');
    expect(run.reports(1).proofs).toEqual([]);
  });
  it('trips on the side that leaks, and names it', () => {
    const { run } = measured({ charger: 1.5e6, cable: 20e3 }, 40);
    expect(run.failing).toEqual(['isolation-low/cable']);
    expect(run.proofs).toEqual([]);
    expect(run.finding('isolation-low', 'cable').limit).toBe(81_000);
  });
  it('passes only above the limit by its uncertainty', () => {
    expect(measured({ charger: 81_500, cable: 2e6 }, 40).run.failing).toEqual(['isolation-low/charger']);
    expect(measured({ charger: 83_000, cable: 2e6 }, 40).run.failing).toEqual([]);
  });
  it('is unproven, not passed, when the device does not inject or nothing settles in time', () => {
    const scene = new Scene().enter('checking-isolation');
    const run = new Run(isolationDead, scene).reports(99, (s) =>
      Object.assign(s.isolation, { point: 1, injecting: 0 }),
    );
    expect(run.failing).toEqual([]);
    expect(run.reports(5).failing).toEqual(['isolation-unproven/charger']);
    const restless = new Run(isolationDead, new Scene().enter('checking-isolation')).reports(110, (s, k) =>
      Object.assign(s.isolation, { point: 1, injecting: 1, positiveV: 40 + (k % 2), negativeV: 40 }),
    );
    expect(restless.failing).toEqual(['isolation-unproven/charger']);
  });
});
