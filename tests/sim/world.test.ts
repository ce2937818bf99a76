import { describe, expect, test } from 'vitest';
import { VOLTMETER_OHM } from '../../simulators/circuit.js';
import { type TruthSink, truthColumns } from '../../simulators/truth.js';
import { CONVERTER_STATE, ISOLATION_POINT, ISOLATION_RESISTOR } from '../../src/rig/roles.js';
import { Bench, rigOf } from './fixture.js';

describe('a charge', () => {
  test('what the supply gives is in the battery or accounted for', () => {
    const bench = new Bench();
    bench.chargeAt(300);
    bench.go(120_000);
    bench.makeSafe();
    const s = bench.world.summary();
    const lost = s.lossesKwh;
    const named = lost.converter + lost.line + lost.contactors + lost.bleeders + lost.leakage;
    expect(s.energyFromSupplyKwh).toBeGreaterThan(6);
    const missing = s.energyFromSupplyKwh - s.energyAtRaftTerminalsKwh - named;
    expect(Math.abs(missing) / s.energyFromSupplyKwh).toBeLessThan(0.0005);
  });

  test('charge counted by the rafts is the integral of the current through the pole', () => {
    const bench = new Bench();
    bench.join();
    bench.match();
    bench.close();
    const before = bench.world.parts.rafts.map((raft) => raft.soc);
    bench.setCurrent(250);
    let ampereSeconds = 0;
    for (let k = 0; k < 30_000; k++) {
      bench.go(1);
      ampereSeconds += bench.world.parts.circuit.poleA('p') * 1e-3;
    }
    const { capacityAh } = bench.rig.battery.raft.cell;
    const ah = capacityAh * bench.rig.battery.raft.parallelCells;
    const counted = bench.world.parts.rafts.reduce(
      (sum, raft, i) => sum + (raft.soc - before[i]!) * ah * 3600,
      0,
    );
    expect(counted / ampereSeconds).toBeGreaterThan(0.9985);
    expect(counted / ampereSeconds).toBeLessThan(1.0005);
  });

  test('the same seed gives the same run, another seed another', () => {
    const trace = (seed: number) => {
      const bench = new Bench({ seed, inject: [{ fault: 'loop-leak', phase: 'start', afterS: 3 }] });
      bench.chargeAt(100);
      return JSON.stringify([
        bench.world.read('meter'),
        bench.world.read('loop'),
        bench.world.read('raft', 2),
        bench.world.summary(),
      ]);
    };
    expect(trace(5)).toBe(trace(5));
    expect(trace(5)).not.toBe(trace(6));
  });

  test('rises at the slope of the authority and stays at the set-point', () => {
    const bench = new Bench();
    bench.join();
    bench.match();
    bench.close();
    bench.order('authority', { ceilingA: 200, slopeAPerS: 40, lifeMs: 60_000 });
    bench.order('setpoint', { currentA: 150, voltageV: 850 });
    const fromMs = bench.world.nowMs;
    bench.go(2000);
    expect(bench.world.parts.circuit.poleA('p')).toBeCloseTo(
      (40 * (bench.world.nowMs - fromMs)) / 1000,
      -0.5,
    );
    bench.go(6000);
    const meter = bench.world.read('meter');
    expect(meter.currentA).toBeCloseTo(150, 0);
    const summary = bench.world.summary();
    expect(summary.maxSetpointA).toBe(150);
    expect(summary.peakA).toBeLessThan(152);
    expect(summary.peakRampAPerS).toBeLessThan(45);
  });

  test('no authority, no current; an authority that runs out takes it down', () => {
    const bench = new Bench();
    bench.join();
    bench.match();
    bench.close();
    bench.order('setpoint', { currentA: 200, voltageV: 850 });
    bench.go(5000);
    expect(bench.world.parts.circuit.poleA('p')).toBeLessThan(bench.rig.converter.matchCurrentA + 0.2);
    bench.setCurrent(100, 3000);
    bench.go(2900);
    expect(bench.world.parts.circuit.poleA('p')).toBeGreaterThan(40);
    bench.go(1500);
    expect(bench.world.parts.circuit.poleA('p')).toBeLessThan(bench.rig.converter.matchCurrentA + 0.2);
  });

  test.each(['depot-cable', 'terminus-shoes'])(
    '%s: losing the load lifts the output by less than 10 %%',
    (name) => {
      const bench = new Bench({ rig: rigOf(name) });
      bench.chargeAt(bench.rig.connection.ratedCurrentA);
      const fullV = bench.world.parts.circuit.outputV();
      bench.order('disable-converter', {});
      bench.go(30);
      bench.order('open-p', {});
      bench.go(200);
      const s = bench.world.summary();
      expect(s.maxBrokenA).toBeGreaterThan(0.7 * bench.rig.connection.ratedCurrentA);
      expect(s.peakOutputV).toBeLessThan(1.1 * fullV);
      expect(bench.world.read('converter').state).toBe(CONVERTER_STATE.off);
    },
  );

  test('the output follows the bleeder once P is open, the plug side holds', () => {
    const bench = new Bench();
    bench.chargeAt(50);
    bench.order('disable-converter', {});
    bench.go(600);
    bench.order('open-p', {});
    bench.go(60);
    bench.order('bleed-output', { on: 1 });
    const fromV = bench.world.parts.circuit.outputV();
    bench.go(300);
    const tauS = bench.rig.bleeder.outputOhm * bench.rig.converter.capacitanceF;
    expect(bench.world.parts.circuit.outputV() / (fromV * Math.exp(-0.3 / tauS))).toBeCloseTo(1, 2);
    expect(bench.world.parts.circuit.plugV()).toBeGreaterThan(690);
  });

  test('make-safe ends dead on both sides', () => {
    const bench = new Bench();
    bench.chargeAt(200);
    bench.makeSafe();
    const meter = bench.world.read('meter');
    for (const volts of [meter.outputV, meter.plugV, meter.outputPositiveV, meter.plugNegativeV])
      expect(Math.abs(volts)).toBeLessThan(10);
    expect(bench.world.summary().trainV).toBeGreaterThan(690);
  });

  test('a set-point jump is steep; an overshoot passes the set-point by its percentage', () => {
    const steps = new Bench();
    steps.join();
    steps.match();
    steps.close();
    steps.setCurrent(200);
    steps.go(1000);
    steps.world.inject({ fault: 'converter-steps', magnitude: 40 });
    steps.go(500);
    expect(steps.world.summary().peakRampAPerS).toBeGreaterThan(300);
    const overs = new Bench({ inject: [{ fault: 'converter-overshoots', phase: 'start', magnitude: 8 }] });
    overs.chargeAt(200);
    expect(overs.world.summary().peakA / 200).toBeGreaterThan(1.06);
    expect(overs.world.summary().peakA / 200).toBeLessThan(1.1);
  });

  test('a converter that will not stop delivers against orders and says so', () => {
    const bench = new Bench();
    bench.chargeAt(200);
    bench.world.inject({ fault: 'converter-wont-stop' });
    bench.go(10);
    bench.order('setpoint', { currentA: 0, voltageV: 0 });
    bench.go(3000);
    expect(bench.world.parts.circuit.poleA('p')).toBeGreaterThan(190);
    bench.makeSafe();
    bench.order('trip-supply', {});
    bench.order('bleed-output', { on: 0 });
    bench.go(2000);
    expect(bench.world.read('converter').state).toBe(CONVERTER_STATE.delivering);
    expect(bench.world.parts.circuit.outputV()).toBeGreaterThan(400);
  });

  test('a failed rectifier lets the pack feed back', () => {
    const bench = new Bench();
    bench.chargeAt(200);
    bench.world.inject({ fault: 'current-reverses', magnitude: 25 });
    bench.go(200);
    const meter = bench.world.read('meter');
    expect(meter.currentMinA).toBeCloseTo(-bench.world.parts.circuit.outputV() / 25, 0);
    expect(bench.world.read('converter').outputA).toBeLessThan(-20);
  });
});

describe('isolation device', () => {
  test('a dead side is injected and shows the lower leakage in its volts', () => {
    const bench = new Bench({ inject: [{ fault: 'isolation-one-pole', phase: 'start', magnitude: 30_000 }] });
    bench.order('isolate', { point: ISOLATION_POINT.cable, resistor: ISOLATION_RESISTOR.none });
    bench.go(1000);
    const seen = bench.world.read('isolation');
    const { injectionV, injectionOhm, meterOhm, network } = bench.rig.isolation;
    expect(seen.injecting).toBe(1);
    const loads = 1 / meterOhm + 1 / VOLTMETER_OHM + 1 / network.cableOhm;
    const expected = injectionV / injectionOhm / (1 / injectionOhm + 1 / 30_000 + loads);
    // The other pole is tied to it through the 10 megohm between them.
    expect(Math.abs(seen.positiveV / expected - 1)).toBeLessThan(0.02);
    expect(seen.negativeV).toBeGreaterThan(40);
  });

  test('lets go of a side that becomes live', () => {
    const bench = new Bench();
    bench.order('isolate', { point: ISOLATION_POINT.cable, resistor: ISOLATION_RESISTOR.none });
    bench.go(100);
    expect(bench.world.read('isolation').injecting).toBe(1);
    bench.join();
    expect(bench.world.read('isolation').injecting).toBe(0);
  });

  test('the two settled pairs of volts of the joined network give its leakages', () => {
    const bench = new Bench({
      inject: [
        { fault: 'isolation-one-pole', phase: 'start', magnitude: 200_000, part: 'train-p' },
        { fault: 'isolation-one-pole', phase: 'start', magnitude: 300_000, part: 'train-n' },
      ],
    });
    bench.join();
    const pair = (resistor: number) => {
      bench.order('isolate', { point: ISOLATION_POINT.joined, resistor });
      bench.go(2000);
      const { positiveV, negativeV } = bench.world.read('isolation');
      return { p: positiveV, n: -negativeV };
    };
    const onP = pair(ISOLATION_RESISTOR.positive);
    const onN = pair(ISOLATION_RESISTOR.negative);
    // Currents at chassis: p (gp + k) = n gn, and p' gp = n' (gn + k).
    const k = 1 / bench.rig.isolation.knownOhm;
    const ratioP = onP.p / onP.n;
    const ratioN = onN.p / onN.n;
    const gp = (k + ratioP * k) / (ratioN - ratioP);
    const gn = ratioP * (gp + k);
    const { network, meterOhm } = bench.rig.isolation;
    const rest = 1 / network.cableOhm + 1 / network.trainOhm + 1 / meterOhm + 1 / VOLTMETER_OHM;
    expect(gp / (1 / 200_000 + rest)).toBeCloseTo(1, 2);
    expect(gn / (1 / 300_000 + rest)).toBeCloseTo(1, 2);
  });
});

describe('truth', () => {
  test('rows come as often as asked and are as wide as their columns', () => {
    const rows: number[][] = [];
    const sink: TruthSink = { row: (values) => rows.push([...values]) };
    const bench = new Bench({ truth: { sink, everyMs: 20 } });
    bench.chargeAt(60);
    const columns = truthColumns(bench.rig.battery.rafts.length);
    expect(rows.length).toBe(Math.floor(bench.world.nowMs / 20));
    expect(rows.every((row) => row.length === columns.length)).toBe(true);
    const last = rows.at(-1)!;
    expect(last[columns.indexOf('poleP_A')]).toBeCloseTo(60, 0);
    expect(last[columns.indexOf('poleP')]).toBe(1);
    const energies = rows.map((row) => row[columns.indexOf('raftsKwh')]!);
    expect(energies.at(-1)).toBeCloseTo(bench.world.summary().energyAtRaftTerminalsKwh, 3);
  });

  test('the summary names poles, volts and whether the plug is free', () => {
    const bench = new Bench();
    expect(bench.world.summary().plugFree).toBe(true);
    bench.chargeAt(20);
    const s = bench.world.summary();
    expect(s.poles).toEqual({ p: true, n: true, pre: false });
    expect(s.plugFree).toBe(false);
    expect(s.plugToChassisV).toBeGreaterThan(300);
  });
});
