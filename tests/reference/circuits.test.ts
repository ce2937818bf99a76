/**
 * The simulators' network and the estimators against a circuit engine, on circuits drawn from a seed: isolation
 * with the known resistor switched, pre-charge, bleeding. The engine gets a netlist of parts, nothing of ours.
 */
import { describe } from 'vitest';
import { Circuit, TRAIN_BUS_F, VOLTMETER_OHM } from '../../simulators/circuit.js';
import { CHASSIS, Network, NODE } from '../../simulators/network.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { isolationFromCurve } from '../../src/checks/isolation-curve.js';
import type { ResistorAt } from '../../src/checks/isolation-record.js';
import { prechargeFromCurve } from '../../src/checks/precharge-curve.js';
import { rigOf } from '../sim/fixture.js';
import { drawNetwork, type PoleNetwork, recordPoles, settlingS } from './isolation-bench.js';
import { reference } from './reference.js';
import { readAt, transient } from './spice.js';

const SEED = 20261;
const ENGINE = 'ngspice by eecircuit-engine';
const FINE = '.options reltol=1e-6 abstol=1e-12 vntol=1e-7 chgtol=1e-16 gmin=1e-15';

interface Wave {
  readonly ours: Float64Array;
  readonly engine: Float64Array;
}

/** The row at which the two part most; the tolerance is of the engine's peak. */
function waveform(quantity: string, unit: string, run: () => Promise<Wave>): void {
  let once: Promise<Wave> | null = null;
  const wave = (): Promise<Wave> => {
    once ??= run();
    return once;
  };
  const worst = ({ ours, engine }: Wave): number => {
    let at = 0;
    for (let k = 0; k < ours.length; k++)
      if (Math.abs(ours[k]! - engine[k]!) >= Math.abs(ours[at]! - engine[at]!)) at = k;
    return at;
  };
  reference({
    quantity: `${quantity}, where they part most`,
    unit,
    ours: async () => (await wave()).ours[worst(await wave())]!,
    reference: async () => (await wave()).engine[worst(await wave())]!,
    tolerance: {
      share: 0.005,
      of: async () => (await wave()).engine.reduce((m, x) => Math.max(m, Math.abs(x)), 0),
    },
    source: ENGINE,
    trust: 'computed',
  });
}

function value(quantity: string, unit: string, ours: () => Promise<number>, truth: number): void {
  const tolerance = { share: 0.005 };
  const source = `the netlist given to ${ENGINE}`;
  reference({ quantity, unit, ours, reference: () => truth, tolerance, source, trust: 'computed' });
}

describe('isolation', () => {
  const bench = { knownOhm: 75e3, meterOhm: 10e6, packV: 750, noiseV: 0, noiseShare: 0, bits: 0 };
  const ROWS = 100;

  /** Both stretches last two time constants; the known resistor is a switch with its own resistance closed. */
  async function engineRun(network: PoleNetwork, stretchS: number, startV: number) {
    const rowS = stretchS / ROWS;
    // Closed a little early, so that the first row is as far from the switching as ours.
    const edgeS = stretchS * 1e-6;
    const netlist = `
${FINE} method=gear
Vpack p n ${bench.packV}
Rp p 0 ${network.positiveOhm}
Rn n 0 ${network.negativeOhm}
Rmp p 0 ${bench.meterOhm}
Rmn n 0 ${bench.meterOhm}
Cp p 0 ${network.positiveF} ic=${startV}
Cn n 0 ${network.negativeF} ic=${startV - bench.packV}
.model known sw(vt=0.5 vh=0 ron=${bench.knownOhm} roff=1e15)
Spos p 0 a 0 known
Sneg n 0 b 0 known
Va a 0 pwl(0 1 ${stretchS - edgeS} 1 ${stretchS} 0)
Vb b 0 pwl(0 0 ${stretchS - edgeS} 0 ${stretchS} 1)
.tran ${rowS / 5} ${2 * stretchS} 0 ${rowS / 5} uic`;
    const run = await transient(netlist);
    const timeS = Float64Array.from({ length: 2 * ROWS }, (_, k) => (k + 1) * rowS);
    const resistor = Array.from(timeS, (_, k): ResistorAt => (k < ROWS ? 'pos' : 'neg'));
    const positiveV = readAt(run.timeS, run.of('v(p)'), timeS);
    const negativeV = readAt(run.timeS, run.of('v(n)'), timeS);
    return { timeS, positiveV, negativeV, resistor };
  }

  const random = new SeededRandom(SEED);
  for (let i = 0; i < 8; i++) {
    const network = drawNetwork(random, i);
    const startV = random.between(0, bench.packV);
    const stretchS = 2 * settlingS(network, bench);
    const name = `isolation ${i + 1}`;
    let once: ReturnType<typeof engineRun> | null = null;
    const engine = () => {
      once ??= engineRun(network, stretchS, startV);
      return once;
    };
    waveform(`${name}: positive pole`, 'V', async () => {
      const positions = [
        { at: 'pos', seconds: stretchS },
        { at: 'neg', seconds: stretchS },
      ] as const;
      const ours = recordPoles(network, bench, positions, stretchS / ROWS, 20, startV, random);
      return { ours: Float64Array.from(ours.positiveV), engine: (await engine()).positiveV };
    });
    const curve = async () => isolationFromCurve(await engine(), bench);
    value(`${name}: positive pole`, 'Ω', async () => (await curve()).positiveOhm.value, network.positiveOhm);
    value(`${name}: negative pole`, 'Ω', async () => (await curve()).negativeOhm.value, network.negativeOhm);
    const totalF = network.positiveF + network.negativeF;
    value(`${name}: both capacitances`, 'F', async () => (await curve()).totalFarad.value, totalF);
  }
});

/** A capacitor alone on the output nodes of the simulators' network, 0.1 ms steps. */
function bus(farad: number, startV: number): Network {
  const net = new Network(1e-4);
  for (const node of Object.values(NODE)) net.addBranch(node, CHASSIS, 1e-7);
  net.addCapacitor(NODE.outP, NODE.outN, farad);
  net.volts[NODE.outP] = startV / 2;
  net.volts[NODE.outN] = -startV / 2;
  return net;
}

function follow(net: Network, points: number, strideSteps: number, read: () => number): Float64Array {
  return Float64Array.from({ length: points }, () => {
    for (let k = 0; k < strideSteps; k++) net.prepare();
    return read();
  });
}

describe('bus', () => {
  const POINTS = 200;
  const random = new SeededRandom(SEED + 1);
  const times = (endS: number) => Float64Array.from({ length: POINTS }, (_, k) => ((k + 1) * endS) / POINTS);

  for (let i = 0; i < 4; i++) {
    const w7 = i === 0;
    const supplyV = w7 ? 750 : random.between(500, 900);
    const farad = w7 ? 5e-3 : random.between(2e-3, 10e-3);
    const ohm = w7 ? 100 : random.between(40, 200);
    const loadOhm = i === 3 ? random.between(500, 2000) : 1e9;
    const strideSteps = Math.round((5 * ohm * farad) / POINTS / 1e-4);
    const endS = strideSteps * POINTS * 1e-4;
    const name = w7 ? 'pre-charge of W7' : `pre-charge ${i + 1}${i === 3 ? ' under load' : ''}`;
    let once: Promise<Float64Array> | null = null;
    const engine = () => {
      once ??= transient(`
${FINE}
V1 s 0 ${supplyV}
R1 s c ${ohm}
C1 c 0 ${farad} ic=0
R2 c 0 ${loadOhm}
.tran ${endS / POINTS} ${endS} 0 ${endS / POINTS / 4} uic`).then((run) =>
        readAt(run.timeS, run.of('v(c)'), times(endS)),
      );
      return once;
    };
    waveform(name, 'V', async () => {
      const net = bus(farad, 0);
      net.setEmf(net.addBranch(NODE.plugP, NODE.outN, 100), supplyV);
      net.addBranch(NODE.plugP, NODE.outP, 1 / ohm);
      net.addBranch(NODE.outP, NODE.outN, 1 / loadOhm);
      const read = () => net.voltage(NODE.outP, NODE.outN);
      return { ours: follow(net, POINTS, strideSteps, read), engine: await engine() };
    });
    const share = loadOhm / (loadOhm + ohm);
    const found = async () =>
      prechargeFromCurve(times(endS), await engine(), {
        leastSupplyV: supplyV,
        mostSupplyV: supplyV,
        resistorOhm: ohm,
        capacitanceF: farad,
        matchV: 8,
      });
    value(`${name}: time constant`, 's', async () => (await found()).tauS.value, ohm * farad * share);
    value(`${name}: end`, 'V', async () => (await found()).finalV.value, supplyV * share);
  }

  for (let i = 0; i < 3; i++) {
    const w8 = i === 0;
    const startV = w8 ? 750 : random.between(500, 900);
    const farad = w8 ? 5e-3 : random.between(2e-3, 10e-3);
    const ohm = w8 ? 79.19 : random.between(40, 200);
    const strideSteps = Math.round((4 * ohm * farad) / POINTS / 1e-4);
    const endS = strideSteps * POINTS * 1e-4;
    waveform(w8 ? 'bleeding of W8' : `bleeding ${i + 1}`, 'V', async () => {
      const run = await transient(`
${FINE}
C1 c 0 ${farad} ic=${startV}
R1 c 0 ${ohm}
.tran ${endS / POINTS} ${endS} 0 ${endS / POINTS / 4} uic`);
      const net = bus(farad, startV);
      net.addBranch(NODE.outP, NODE.outN, 1 / ohm);
      const ours = follow(net, POINTS, strideSteps, () => net.voltage(NODE.outP, NODE.outN));
      return { ours, engine: readAt(run.timeS, run.of('v(c)'), times(endS)) };
    });
  }
});

describe('the whole circuit', () => {
  const rig = rigOf('yard-precharge');
  const iso = rig.isolation.network;
  const endMs = 2500;
  const raftOhm = 0.2;
  const raftV = 720;
  const lineOhm = 5e-3;

  /** Pole N closed, everything else at rest, the output capacitor empty. */
  function started(): Circuit {
    const circuit = new Circuit(rig);
    for (const pole of ['p', 'n'] as const) {
      circuit.setLineOhm(pole, lineOhm - 20e-6);
      circuit.setLine(pole, true);
    }
    circuit.setRaft(0, raftOhm, raftV);
    circuit.setPole('n', true);
    for (let k = 0; k < 20_000; k++) circuit.network.prepare();
    return circuit;
  }

  /** The output capacitor fills from the train, past every part of the circuit. */
  function ours(read: (circuit: Circuit) => number): Float64Array {
    const circuit = started();
    circuit.setPre(true);
    return Float64Array.from({ length: endMs }, () => {
      circuit.network.prepare();
      return read(circuit);
    });
  }

  let once: ReturnType<typeof transient> | null = null;
  const engine = () => {
    const leak = (node: string, ohm: number, farad: number, meters: boolean) => `
Rl${node} ${node} 0 ${ohm}
Cl${node} ${node} 0 ${farad}${meters ? `\nRm${node} ${node} 0 ${VOLTMETER_OHM}` : ''}`;
    // The pre-charge resistor is a switch that closes in the first microsecond. The output capacitor would take
    // hours to come to rest through leaks, so both start from the same volts.
    const start = started();
    once ??= transient(`
${FINE} method=gear
.model pre sw(vt=0.5 vh=0 ron=${rig.precharge?.resistorOhm} roff=1e10)
Vgo go 0 pwl(0 0 1u 1)
${leak('op', iso.chargerOhm, iso.chargerF, true)}${leak('an', iso.chargerOhm, iso.chargerF, true)}
${leak('pp', iso.cableOhm, iso.cableF, true)}${leak('pn', iso.cableOhm, iso.cableF, true)}
${leak('tp', iso.trainOhm, iso.trainF, false)}${leak('tn', iso.trainOhm, iso.trainF, false)}
Rmo op an ${VOLTMETER_OHM}
Rmq pp pn ${VOLTMETER_OHM}
Rop op pp 1e10
Spre pp op go 0 pre
Rpole an pn 150u
Rlp pp tp ${lineOhm}
Rln pn tn ${lineOhm}
Vraft rp tn ${raftV}
Rraft rp tp ${raftOhm}
Cout op an ${rig.converter.capacitanceF}
Cplug pp pn ${rig.connection.cable.capacitanceF}
Ctrain tp tn ${TRAIN_BUS_F}
.ic v(op)=${start.poleVolts('charger', 'p')} v(an)=${start.poleVolts('charger', 'n')}
.tran 1m ${endMs / 1000} 0 1m`);
    return once;
  };
  const at = Float64Array.from({ length: endMs }, (_, k) => (k + 1) / 1000);
  waveform('pre-charge through the whole circuit: output', 'V', async () => {
    const run = await engine();
    const op = readAt(run.timeS, run.of('v(op)'), at);
    const on = readAt(run.timeS, run.of('v(an)'), at);
    return { ours: ours((c) => c.outputV()), engine: op.map((v, k) => v - on[k]!) };
  });
  waveform('pre-charge through the whole circuit: output’s positive pole', 'V', async () => {
    const run = await engine();
    return {
      ours: ours((c) => c.poleVolts('charger', 'p')),
      engine: readAt(run.timeS, run.of('v(op)'), at),
    };
  });
});
