/**
 * The worked examples of isolation, bus and cable: figures reckoned by hand outside the project. Each row names
 * where the method comes from and how far that is to be trusted. The pilot loop (W14) and pack, ramp and supply
 * have files of their own. There is no W10, W15, W19 and W24.
 */
import { describe } from 'vitest';
import { CHASSIS, Network, NODE } from '../../simulators/network.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { type IsolationCurve, isolationFromCurve } from '../../src/checks/isolation-curve.js';
import { judgeIsolation } from '../../src/checks/isolation-verdict.js';
import { lowerPoleOhm } from '../../src/checks/known-resistor.js';
import { prechargeFromCurve } from '../../src/checks/precharge-curve.js';
import {
  type CableFigures,
  cableLoopOhm,
  cableRatingA,
  sectionFor,
  withstandA2s,
} from '../../src/rig/ratings.js';
import { touchV } from '../../src/rig/touch.js';
import { rigOf } from '../sim/fixture.js';
import { recordPoles } from './isolation-bench.js';
import { reference, type Trust } from './reference.js';

const R100 = 'UN R100 rev 2, annex';
const share = (percent: number) => ({ share: percent / 100 });

function row(
  quantity: string,
  unit: string,
  ours: () => number,
  value: number,
  source: string,
  trust: Trust,
  percent = 0.1,
): void {
  reference({ quantity, unit, ours, reference: () => value, tolerance: share(percent), source, trust });
}

/** What the estimator makes of the simulated network, recorded without noise. */
function measured(
  positiveOhm: number,
  negativeOhm: number,
  more: { meterOhm?: number; assumedMeterOhm?: number; farad?: number; packV?: number; steps?: number } = {},
): IsolationCurve {
  const { meterOhm = 1e15, assumedMeterOhm = meterOhm, farad = 0.2e-6, packV = 750, steps = 50 } = more;
  const bench = { knownOhm: 75e3, meterOhm, packV, noiseV: 0, noiseShare: 0, bits: 0 };
  const network = { positiveOhm, negativeOhm, positiveF: farad / 2, negativeF: farad / 2 };
  const positions = [
    { at: 'none', seconds: 0.1 },
    { at: 'pos', seconds: 0.1 },
    { at: 'neg', seconds: 0.1 },
  ] as const;
  const record = recordPoles(network, bench, positions, 1e-3, steps, packV / 2, new SeededRandom(1));
  return isolationFromCurve(record, { knownOhm: 75e3, meterOhm: assumedMeterOhm });
}

/** Settled volts of the poles, as the simulators' network has them. */
function settledV(positiveOhm: number, negativeOhm: number, on: 'none' | 'pos' | 'neg') {
  const net = new Network(1e-3);
  for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-15);
  net.setEmf(net.addBranch(NODE.trainP, NODE.trainN, 50), 750);
  net.addBranch(NODE.trainP, CHASSIS, 1 / positiveOhm + (on === 'pos' ? 1 / 75e3 : 0));
  net.addBranch(NODE.trainN, CHASSIS, 1 / negativeOhm + (on === 'neg' ? 1 / 75e3 : 0));
  net.prepare();
  return { pos: net.volts[NODE.trainP]!, neg: -net.volts[NODE.trainN]!, none: Number.NaN };
}

describe('isolation', () => {
  const examples = [
    { id: 'W1', p: 200e3, n: 300e3, on: 'neg', v1: 450, v2: 300, loaded: 173.077, perVolt: 266.7 },
    { id: 'W2', p: 60e3, n: 60e3, on: 'neg', v1: 375, v2: 375, loaded: 267.857, perVolt: 80 },
    { id: 'W3', p: 1e6, n: 50e3, on: 'pos', v1: 714.286, v2: 35.714, loaded: 436.893, perVolt: 66.7 },
    { id: 'W4', p: 75e3, n: 5e6, on: 'neg', v1: 738.916, v2: 11.084, loaded: 372.208, perVolt: 100 },
  ] as const;
  for (const { id, p, n, on, v1, v2, loaded, perVolt } of examples) {
    const other = on === 'neg' ? 'pos' : 'neg';
    row(`${id} V1, the higher pole`, 'V', () => settledV(p, n, 'none')[on], v1, R100, 'published');
    row(`${id} V2, the lower pole`, 'V', () => settledV(p, n, 'none')[other], v2, R100, 'published');
    row(`${id} V1′ with 75 kΩ on it`, 'V', () => settledV(p, n, on)[on], loaded, R100, 'published');
    row(
      `${id} lower pole by the formula`,
      'Ω',
      () => lowerPoleOhm(75e3, 750, v1, loaded),
      Math.min(p, n),
      R100,
      'published',
    );
    row(
      `${id} positive pole by the curve`,
      'Ω',
      () => measured(p, n).positiveOhm.value,
      p,
      R100,
      'published',
    );
    row(
      `${id} negative pole by the curve`,
      'Ω',
      () => measured(p, n).negativeOhm.value,
      n,
      R100,
      'published',
    );
    row(
      `${id} lower pole per volt`,
      'Ω/V',
      () => measured(p, n).ohmPerVolt.value,
      perVolt,
      R100,
      'published',
    );
  }
  row(
    'W1 both poles in parallel',
    'Ω',
    () => measured(200e3, 300e3).parallelOhm.value,
    120e3,
    R100,
    'published',
  );
  row(
    'W5 200 kΩ behind a 10 MΩ meter not reckoned with',
    'Ω',
    () => measured(200e3, 300e3, { meterOhm: 10e6, assumedMeterOhm: 1e15 }).positiveOhm.value,
    196_078,
    'algebra',
    'computed',
  );
  for (const [packV, farad] of [
    [750, 0.7111e-6],
    [900, 0.4938e-6],
  ] as const) {
    row(
      `W6 ${farad * 1e6} µF at ${packV} V`,
      'J',
      () => measured(200e3, 300e3, { farad, packV }).storedJ.value,
      0.2,
      'ISO 6469-4:2015 5.2.3',
      'published',
    );
  }
  row(
    'W6 80.0 nF at 750 V, charge',
    'µC',
    () => {
      const rig = { ...rigOf('depot-cable').isolation, workingVoltageV: 750 };
      const curve = measured(200e3, 300e3, { farad: 80e-9, packV: 750, steps: 500 });
      return judgeIsolation(curve, rig).storedAtWorkingC.value * 1e6;
    },
    60,
    'IEC 60204-1 6.2.4',
    'published',
  );
});

describe('touch', () => {
  for (const [seconds, volts] of [
    [0.5, 385],
    [0.6, 360],
    [0.7, 175],
    [300, 150],
    [301, 120],
  ] as const) {
    const source = 'EN 50122-1:2011 Table 6, transcription';
    row(`W21 touch for ${seconds} s`, 'V', () => touchV(seconds), volts, source, 'published', 0);
  }
});

/** A capacitor between the output nodes; the rest of the network is out of the way. */
function bus(farad: number, startV: number): Network {
  const net = new Network(1e-4);
  for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-7);
  net.addCapacitor(NODE.outP, NODE.outN, farad);
  net.volts[NODE.outP] = startV / 2;
  net.volts[NODE.outN] = -startV / 2;
  return net;
}

function runUntil(net: Network, until: () => boolean): number {
  for (let k = 1; k <= 100_000; k++) {
    net.prepare();
    if (until()) return k * net.stepS;
  }
  return Number.NaN;
}

describe('bus', () => {
  const rc = 'first-order RC, algebra';
  const simulated = () => {
    const net = bus(5e-3, 0);
    net.setEmf(net.addBranch(NODE.plugP, NODE.outN, 100), 750);
    const resistor = net.addBranch(NODE.plugP, NODE.outP, 1 / 100);
    const volts = () => net.voltage(NODE.outP, NODE.outN);
    return { net, resistor, volts };
  };
  row(
    'W7 peak current',
    'A',
    () => {
      const { net, resistor } = simulated();
      net.prepare();
      return net.current(resistor);
    },
    7.5,
    rc,
    'computed',
  );
  for (const [what, volts, seconds] of [
    ['to 95 %', 712.5, 1.498],
    ['to within 20 V', 730, 1.812],
  ] as const) {
    const ours = () => {
      const s = simulated();
      return runUntil(s.net, () => s.volts() >= volts);
    };
    row(`W7 ${what}`, 's', ours, seconds, rc, 'computed');
  }
  row(
    'W7 heat in the resistor',
    'J',
    () => {
      const { net, resistor } = simulated();
      let heatJ = 0;
      for (let k = 0; k < 60_000; k++) {
        net.prepare();
        heatJ += net.heatW(resistor) * net.stepS;
      }
      return heatJ;
    },
    1406.25,
    rc,
    'computed',
  );
  const found = () => {
    const s = simulated();
    const timeS: number[] = [];
    const voltageV: number[] = [];
    for (let k = 0; k < 20_000; k++) {
      s.net.prepare();
      if (k % 50 !== 0) continue;
      timeS.push((k + 1) * s.net.stepS);
      voltageV.push(s.volts());
    }
    const supply = { leastSupplyV: 750, mostSupplyV: 750, matchV: 20 };
    return prechargeFromCurve(timeS, voltageV, { ...supply, resistorOhm: 100, capacitanceF: 5e-3 });
  };
  row('W7 time constant by the curve', 's', () => found().tauS.value, 0.5, rc, 'computed');
  row('W7 to within 20 V by the curve', 's', () => found().matchedAfterS, 1.812, rc, 'computed');

  const bled = (fromV: number, ohm: number) => {
    const net = bus(5e-3, fromV);
    net.addBranch(NODE.outP, NODE.outN, 1 / ohm);
    const seconds = runUntil(net, () => net.voltage(NODE.outP, NODE.outN) <= 60);
    return { seconds, leftJ: net.storedJ() };
  };
  row('W8 750 V to 60 V, of RC', '', () => bled(750, 100).seconds / 0.5, 2.5257, rc, 'computed');
  row('W8 900 V to 60 V, of RC', '', () => bled(900, 100).seconds / 0.5, 2.7081, rc, 'computed');
  row('W8 5 mF through 79.19 Ω to 60 V', 's', () => bled(750, 79.19).seconds, 1, rc, 'computed');
  row('W8 left at 60 V', 'J', () => bled(750, 79.19).leftJ, 9, rc, 'computed');

  const contact = (ohm: number) => {
    const net = bus(1e-6, 0);
    const id = net.addBranch(NODE.outP, NODE.plugP, 1 / ohm);
    net.addBranch(NODE.plugP, NODE.outN, 1);
    for (let k = 0; k < 100; k++) {
      net.prepare();
      net.deliver(1500);
    }
    return { dropV: net.voltage(NODE.outP, NODE.plugP), heatW: net.heatW(id) };
  };
  const ohm = 'Ohm’s law';
  row('W13 drop of 200 µΩ at 1500 A', 'V', () => contact(200e-6).dropV, 0.3, ohm, 'computed');
  row('W13 heat of 200 µΩ at 1500 A', 'W', () => contact(200e-6).heatW, 450, ohm, 'computed');
  row('W13 drop of 20 µΩ at 1500 A', 'V', () => contact(20e-6).dropV, 0.03, ohm, 'computed');
  row('W13 heat of 20 µΩ at 1500 A', 'W', () => contact(20e-6).heatW, 45, ohm, 'computed');
});

describe('cable', () => {
  const cable: CableFigures = {
    mm2: 95,
    lengthM: 20,
    coresPerPole: 1,
    insulation: 'epr-xlpe',
    drumLayers: 0,
  };
  const iec = 'IEC 60228, class 5';
  row('W9 40 m loop of 95 mm² at 20 °C', 'Ω', () => cableLoopOhm(cable, 20), 8.24e-3, iec, 'published');
  row('W9 at 70 °C', 'Ω', () => cableLoopOhm(cable, 70), 9.859e-3, iec, 'published');
  row('W9 at 90 °C', 'Ω', () => cableLoopOhm(cable, 90), 10.507e-3, iec, 'published');
  row('W9 drop of 300 A at 70 °C', 'V', () => 300 * cableLoopOhm(cable, 70), 2.958, iec, 'published');
  row('W9 loss of 300 A at 70 °C', 'W', () => 300 ** 2 * cableLoopOhm(cable, 70), 887.3, iec, 'published');
  const k = 'IEC 60364-5-54';
  const pvc = { ...cable, insulation: 'pvc' } as const;
  row('W11 95 mm², k 143', 'A²s', () => withstandA2s(cable), 1.8455e8, k, 'published');
  row('W11 10 kA for', 's', () => withstandA2s(cable) / 1e8, 1.846, k, 'published');
  row('W11 10 kA for, k 115', 's', () => withstandA2s(pvc) / 1e8, 1.194, k, 'published');
  const bs = 'BS 7671 Table 4F2A';
  row('W12 95 mm² in air of 50 °C', 'A', () => cableRatingA(cable, 50), 302.6, bs, 'published');
  row('W12 95 mm² in air of 55 °C', 'A', () => cableRatingA(cable, 55), 280.4, bs, 'published');
  const onDrum = { ...cable, drumLayers: 2 };
  row(
    'W12 300 A on two drum layers',
    'mm²',
    () => sectionFor(300, onDrum, 30) ?? NaN,
    150,
    bs,
    'published',
    0,
  );
});
