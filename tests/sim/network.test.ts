import { describe, expect, test } from 'vitest';
import { CHASSIS, Network, NODE } from '../../simulators/network.js';
import { Bench, rigOf } from './fixture.js';

/** Steps without any source until `until` holds; returns s. */
function runUntil(net: Network, until: () => boolean, mostS = 10): number {
  for (let k = 1; k <= mostS * 1000; k++) {
    net.prepare();
    if (until()) return k / 1000;
  }
  throw new Error('never');
}

/** A network whose unused nodes are tied down, charged to `chargedV` on the output capacitor. */
function charged(farad: number, chargedV: number): Network {
  const net = new Network(1e-3);
  for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-9);
  net.addCapacitor(NODE.outP, NODE.outN, farad);
  net.volts[NODE.outP] = chargedV / 2;
  net.volts[NODE.outN] = -chargedV / 2;
  return net;
}

describe('network', () => {
  test('W8: 5 mF through 79.19 ohm fall from 750 V to 60 V in 1 s, 9.0 J left', () => {
    const net = charged(5e-3, 750);
    net.addBranch(NODE.outP, NODE.outN, 1 / 79.19);
    const seconds = runUntil(net, () => net.voltage(NODE.outP, NODE.outN) <= 60);
    expect(seconds).toBeGreaterThan(0.995);
    expect(seconds).toBeLessThan(1.006);
    expect(net.storedJ()).toBeCloseTo(9, 1);
  });

  test('a discharge follows the exponential at every instant', () => {
    const net = charged(8e-3, 750);
    net.addBranch(NODE.outP, NODE.outN, 1 / 60);
    for (let k = 1; k <= 1500; k++) {
      net.prepare();
      const analyticV = 750 * Math.exp(-k / 1000 / 0.48);
      // Backward Euler lags by half a step's worth of slope.
      expect(Math.abs(net.voltage(NODE.outP, NODE.outN) - analyticV)).toBeLessThan(0.6);
    }
  });

  test('W7: pre-charge of 5 mF through 100 ohm', () => {
    const net = new Network(1e-3);
    for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-6);
    net.addCapacitor(NODE.outP, NODE.outN, 5e-3);
    const source = net.addBranch(NODE.plugP, NODE.plugN, 1e3);
    net.setEmf(source, 750);
    net.addBranch(NODE.outN, NODE.plugN, 1e4);
    const resistor = net.addBranch(NODE.plugP, NODE.outP, 1 / 100);
    let peakA = 0;
    let heatJ = 0;
    let at95 = 0;
    let at20 = 0;
    for (let k = 1; k <= 10_000; k++) {
      net.prepare();
      peakA = Math.max(peakA, net.current(resistor));
      heatJ += net.heatW(resistor) * 1e-3;
      const v = net.voltage(NODE.outP, NODE.outN);
      if (at95 === 0 && v >= 0.95 * 750) at95 = k / 1000;
      if (at20 === 0 && v >= 730) at20 = k / 1000;
    }
    expect(peakA).toBeGreaterThan(7.45);
    expect(peakA).toBeLessThanOrEqual(7.5);
    expect(Math.abs(at95 - 1.498)).toBeLessThan(0.004);
    expect(Math.abs(at20 - 1.812)).toBeLessThan(0.004);
    expect(Math.abs(heatJ / 1406.25 - 1)).toBeLessThan(0.003);
  });

  test.each([
    { name: 'W1', p: 200e3, n: 300e3, on: 'n', v1: 450, v2: 300, loaded: 173.077 },
    { name: 'W2', p: 60e3, n: 60e3, on: 'n', v1: 375, v2: 375, loaded: 267.857 },
    { name: 'W3', p: 1e6, n: 50e3, on: 'p', v1: 35.714, v2: 714.286, loaded: 436.893 },
    { name: 'W4', p: 75e3, n: 5e6, on: 'n', v1: 738.916, v2: 11.084, loaded: 372.208 },
  ])('$name: volts of the known-resistor method', ({ p, n, on, v1, v2, loaded }) => {
    const net = new Network(1e-3);
    for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-15);
    const battery = net.addBranch(NODE.trainP, NODE.trainN, 50);
    net.setEmf(battery, 750);
    net.addBranch(NODE.trainP, CHASSIS, 1 / p);
    net.addBranch(NODE.trainN, CHASSIS, 1 / n);
    const known = net.addBranch(on === 'p' ? NODE.trainP : NODE.trainN, CHASSIS, 0);
    net.prepare();
    expect(-net.volts[NODE.trainN]!).toBeCloseTo(v1, 2);
    expect(net.volts[NODE.trainP]!).toBeCloseTo(v2, 2);
    net.setConductance(known, 1 / 75e3);
    net.prepare();
    expect(Math.abs(net.volts[on === 'p' ? NODE.trainP : NODE.trainN]!)).toBeCloseTo(loaded, 2);
  });

  test('currents balance at every node under load', () => {
    const bench = new Bench();
    bench.chargeAt(300);
    const { circuit } = bench.world.parts;
    const rafts = bench.world.parts.rafts.map((_, i) => circuit.raftA(i)).reduce((a, b) => a + b, 0);
    expect(circuit.poleA('p')).toBeGreaterThan(290);
    // What leaves on the way is leakage and the charging of the small capacitors.
    expect(Math.abs(circuit.poleA('p') - circuit.poleA('n'))).toBeLessThan(0.01);
    expect(Math.abs(circuit.poleA('p') - circuit.lineA('p'))).toBeLessThan(0.01);
    expect(Math.abs(circuit.lineA('p') - rafts)).toBeLessThan(0.5);
  });

  test('the matrix is rebuilt for real changes only', () => {
    const bench = new Bench();
    bench.chargeAt(100);
    const { network } = bench.world.parts.circuit;
    const before = network.rebuilds;
    bench.go(20_000);
    expect(network.rebuilds - before).toBeLessThan(20);
    bench.order('bleed-output', { on: 1 });
    bench.go(1);
    expect(network.rebuilds - before).toBeGreaterThan(0);
  });

  test('W7 on the rig with pre-charge, fed from the train', () => {
    const bench = new Bench({ rig: rigOf('yard-precharge') });
    bench.join();
    bench.order('close-n', {});
    bench.go(200);
    const fullV = bench.world.read('train').trainV;
    bench.order('close-pre', {});
    let startedMs = 0;
    let peakA = 0;
    for (let k = 0; k < 5000; k++) {
      bench.go(1);
      peakA = Math.max(peakA, -bench.world.parts.circuit.preA());
      if (startedMs === 0 && bench.world.parts.polePre.closed) startedMs = bench.world.nowMs;
      if (bench.world.parts.circuit.outputV() >= 0.95 * fullV) break;
    }
    const tauS = bench.rig.converter.capacitanceF * (bench.rig.precharge?.resistorOhm ?? 0);
    expect(peakA).toBeGreaterThan(0.98 * (fullV / 100));
    expect(Math.abs(bench.world.nowMs - startedMs - 1000 * tauS * Math.log(20))).toBeLessThan(10);
  });
});
