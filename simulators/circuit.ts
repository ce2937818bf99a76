/**
 * The one circuit of the house as a network: which branch lies between which nodes, and what its conductance is
 * for the present positions of poles, bleeders and the isolation device. Parts set positions here; nothing else
 * touches the network's branches.
 */
import type { Rig } from '../src/rig/schema.js';
import { CHASSIS, Network, NODE } from './network.js';

/** Input of each voltmeter: poles to chassis and pole to pole, on the converter side and the plug side. */
export const VOLTMETER_OHM = 10e6;
const CONTACTOR_OHM = 150e-6;
const TRAIN_CONTACTOR_OHM = 20e-6;
/** Across an open contact. */
const OPEN_S = 1e-10;
/** Smoothing capacitor on the train bus. */
export const TRAIN_BUS_F = 1e-3;
/** A bridged pre-charge resistor is not quite nothing. */
const BRIDGED_OHM = 0.05;

export type Side = 'charger' | 'cable' | 'train';
export type PoleName = 'p' | 'n';
const SIDE_NODES: Record<Side, Record<PoleName, number>> = {
  charger: { p: NODE.outP, n: NODE.outN },
  cable: { p: NODE.plugP, n: NODE.plugN },
  train: { p: NODE.trainP, n: NODE.trainN },
};

export class Circuit {
  readonly network = new Network(1e-3);
  readonly #rig: Rig;
  readonly #faultLeak: Record<Side, Record<PoleName, number>>;
  readonly #faultY: Record<Side, Record<PoleName, number>>;
  readonly poleP: number;
  readonly poleN: number;
  readonly #pre: number;
  readonly #line: Record<PoleName, number>;
  readonly #bleedOutput: number;
  readonly #bleedPlug: number;
  readonly #rectifier: number;
  readonly #isolationLoad: Record<'charger' | 'cable', readonly [number, number]>;
  readonly #injection: Record<'charger' | 'cable', readonly [number, number]>;
  readonly #known: Record<PoleName, number>;
  readonly #rafts: readonly number[];
  /** Resistance of each line when made: cable core, plug contact, train contactor. */
  readonly lineOhm: Record<PoleName, number> = { p: 1, n: 1 };
  readonly #lineClosed: Record<PoleName, boolean> = { p: false, n: false };
  readonly #leakage: readonly number[];
  reversed = false;
  precharge: 'healthy' | 'bridged' = 'healthy';

  constructor(rig: Rig) {
    this.#rig = rig;
    const net = this.network;
    const iso = rig.isolation.network;
    const leakage: number[] = [];
    const leak = (side: Side, ohm: number, loadS: number) => {
      for (const pole of ['p', 'n'] as const)
        leakage.push(net.addBranch(SIDE_NODES[side][pole], CHASSIS, 1 / ohm + loadS));
    };
    leak('charger', iso.chargerOhm, 1 / VOLTMETER_OHM);
    leak('cable', iso.cableOhm, 1 / VOLTMETER_OHM);
    leak('train', iso.trainOhm, 0);
    leakage.push(net.addBranch(NODE.outP, NODE.outN, 1 / VOLTMETER_OHM));
    leakage.push(net.addBranch(NODE.plugP, NODE.plugN, 1 / VOLTMETER_OHM));
    const eachNode = (make: (node: number) => number): Record<Side, Record<PoleName, number>> => ({
      charger: { p: make(NODE.outP), n: make(NODE.outN) },
      cable: { p: make(NODE.plugP), n: make(NODE.plugN) },
      train: { p: make(NODE.trainP), n: make(NODE.trainN) },
    });
    this.#faultLeak = eachNode((node) => net.addBranch(node, CHASSIS, 0));
    for (const side of ['charger', 'cable', 'train'] as const)
      for (const pole of ['p', 'n'] as const) leakage.push(this.#faultLeak[side][pole]);
    this.poleP = net.addBranch(NODE.outP, NODE.plugP, OPEN_S);
    this.poleN = net.addBranch(NODE.outN, NODE.plugN, OPEN_S);
    this.#pre = net.addBranch(NODE.outP, NODE.plugP, 0);
    this.#line = {
      p: net.addBranch(NODE.plugP, NODE.trainP, OPEN_S),
      n: net.addBranch(NODE.plugN, NODE.trainN, OPEN_S),
    };
    this.#bleedOutput = net.addBranch(NODE.outP, NODE.outN, 0);
    this.#bleedPlug = net.addBranch(NODE.plugP, NODE.plugN, 0);
    this.#rectifier = net.addBranch(NODE.outP, NODE.outN, 0);
    const pair = (p: number, n: number) =>
      [net.addBranch(p, CHASSIS, 0), net.addBranch(n, CHASSIS, 0)] as const;
    this.#isolationLoad = { charger: pair(NODE.outP, NODE.outN), cable: pair(NODE.plugP, NODE.plugN) };
    this.#injection = { charger: pair(NODE.outP, NODE.outN), cable: pair(NODE.plugP, NODE.plugN) };
    for (const side of ['charger', 'cable'] as const) leakage.push(...this.#isolationLoad[side]);
    this.#known = { p: net.addBranch(NODE.plugP, CHASSIS, 0), n: net.addBranch(NODE.plugN, CHASSIS, 0) };
    leakage.push(this.#known.p, this.#known.n);
    this.#leakage = leakage;
    this.#rafts = rig.battery.rafts.map(() => net.addBranch(NODE.trainP, NODE.trainN, 0));

    net.addCapacitor(NODE.outP, NODE.outN, rig.converter.capacitanceF);
    net.addCapacitor(NODE.plugP, NODE.plugN, rig.connection.cable.capacitanceF);
    net.addCapacitor(NODE.trainP, NODE.trainN, TRAIN_BUS_F);
    const y: Record<Side, number> = { charger: iso.chargerF, cable: iso.cableF, train: iso.trainF };
    for (const side of ['charger', 'cable', 'train'] as const)
      for (const pole of ['p', 'n'] as const) net.addCapacitor(SIDE_NODES[side][pole], CHASSIS, y[side]);
    this.#faultY = eachNode((node) => net.addCapacitor(node, CHASSIS, 0));
  }

  setPole(pole: PoleName, closed: boolean): void {
    this.network.setConductance(pole === 'p' ? this.poleP : this.poleN, closed ? 1 / CONTACTOR_OHM : OPEN_S);
  }

  /** 0 where none is fitted. */
  get prechargeOhm(): number {
    return this.precharge === 'bridged' ? BRIDGED_OHM : (this.#rig.precharge?.resistorOhm ?? 0);
  }

  setPre(closed: boolean): void {
    const resistorOhm = this.prechargeOhm;
    this.network.setConductance(this.#pre, closed && resistorOhm > 0 ? 1 / resistorOhm : 0);
  }

  /** Cable core plus contact of one pole; the train contactor is added here. */
  setLineOhm(pole: PoleName, ohm: number): void {
    this.lineOhm[pole] = ohm + TRAIN_CONTACTOR_OHM;
    if (this.#lineClosed[pole]) this.network.setConductance(this.#line[pole], 1 / this.lineOhm[pole]);
  }

  /** A line is made when the plug (or shoe) touches and the train contactor is closed. */
  setLine(pole: PoleName, made: boolean): void {
    this.#lineClosed[pole] = made;
    this.network.setConductance(this.#line[pole], made ? 1 / this.lineOhm[pole] : OPEN_S);
  }

  reversePolarity(on: boolean): void {
    this.reversed = on;
    this.network.rewire(this.#line.p, NODE.plugP, on ? NODE.trainN : NODE.trainP);
    this.network.rewire(this.#line.n, NODE.plugN, on ? NODE.trainP : NODE.trainN);
  }

  setBleeder(side: 'output' | 'plug', on: boolean): void {
    if (side === 'output')
      this.network.setConductance(this.#bleedOutput, on ? 1 / this.#rig.bleeder.outputOhm : 0);
    else this.network.setConductance(this.#bleedPlug, on ? 1 / this.#rig.bleeder.plugOhm : 0);
  }

  bleederS(side: 'output' | 'plug'): number {
    return this.network.conductance(side === 'output' ? this.#bleedOutput : this.#bleedPlug);
  }

  /** A path back through the rectifier; 0 S when it is sound. */
  setRectifierFault(ohm: number | null): void {
    this.network.setConductance(this.#rectifier, ohm === null ? 0 : 1 / ohm);
  }

  /** Current out of the network into a failed rectifier, A. */
  rectifierA(): number {
    return this.network.current(this.#rectifier);
  }

  setLeak(side: Side, pole: PoleName, ohm: number | null): void {
    this.network.setConductance(this.#faultLeak[side][pole], ohm === null ? 0 : 1 / ohm);
  }

  /** From a pole of one side to chassis: insulation, fixed voltmeters and faults; the isolation device is left out. */
  leakS(side: Side, pole: PoleName): number {
    const { chargerOhm, cableOhm, trainOhm } = this.#rig.isolation.network;
    const soundS = 1 / { charger: chargerOhm, cable: cableOhm, train: trainOhm }[side];
    const loadS = side === 'train' ? 0 : 1 / VOLTMETER_OHM;
    return soundS + loadS + this.network.conductance(this.#faultLeak[side][pole]);
  }

  toChassisF(side: Side, pole: PoleName): number {
    const { chargerF, cableF, trainF } = this.#rig.isolation.network;
    const soundF = { charger: chargerF, cable: cableF, train: trainF }[side];
    return soundF + this.network.capacitance(this.#faultY[side][pole]);
  }

  setExtraY(side: Side, pole: PoleName, farad: number): void {
    this.network.setCapacitance(this.#faultY[side][pole], farad);
  }

  setIsolationLoad(side: 'charger' | 'cable', on: boolean): void {
    for (const id of this.#isolationLoad[side])
      this.network.setConductance(id, on ? 1 / this.#rig.isolation.meterOhm : 0);
  }

  setInjection(side: 'charger' | 'cable', on: boolean): void {
    for (const id of this.#injection[side]) {
      this.network.setConductance(id, on ? 1 / this.#rig.isolation.injectionOhm : 0);
      this.network.setEmf(id, on ? this.#rig.isolation.injectionV : 0);
    }
  }

  setKnown(pole: PoleName, on: boolean): void {
    this.network.setConductance(this.#known[pole], on ? 1 / this.#rig.isolation.knownOhm : 0);
  }

  /** Series resistance of a raft on the bus; null when it is parted. */
  setRaft(index: number, ohm: number | null, emfV: number): void {
    const id = this.#rafts[index]!;
    this.network.setConductance(id, ohm === null ? 0 : 1 / ohm);
    this.network.setEmf(id, ohm === null ? 0 : emfV);
  }

  raftA(index: number): number {
    return this.network.current(this.#rafts[index]!);
  }

  poleA(pole: PoleName): number {
    if (pole === 'n') return -this.network.current(this.poleN);
    return this.network.current(this.poleP) + this.network.current(this.#pre);
  }

  /** Drop along each line, plug to train, with its conductance: what heats cable and contacts. */
  lineDropV(pole: PoleName): number {
    const v = this.network.volts;
    const swap = this.reversed;
    if (pole === 'p') return v[NODE.plugP]! - v[swap ? NODE.trainN : NODE.trainP]!;
    return v[NODE.plugN]! - v[swap ? NODE.trainP : NODE.trainN]!;
  }

  lineS(pole: PoleName): number {
    return this.network.conductance(this.#line[pole]);
  }

  /** Drop across a charger pole, and the conductance across it (pre-charge path included). */
  poleDropV(pole: PoleName): number {
    const v = this.network.volts;
    return pole === 'p' ? v[NODE.outP]! - v[NODE.plugP]! : v[NODE.outN]! - v[NODE.plugN]!;
  }

  poleS(pole: PoleName): number {
    const net = this.network;
    if (pole === 'n') return net.conductance(this.poleN);
    return net.conductance(this.poleP) + net.conductance(this.#pre);
  }

  rectifierS(): number {
    return this.network.conductance(this.#rectifier);
  }

  raftS(index: number): number {
    return this.network.conductance(this.#rafts[index]!);
  }

  raftEmfV(index: number): number {
    return this.network.emf(this.#rafts[index]!);
  }

  preA(): number {
    return this.network.current(this.#pre);
  }

  lineA(pole: PoleName): number {
    return pole === 'p' ? this.network.current(this.#line.p) : -this.network.current(this.#line.n);
  }

  outputV(): number {
    return this.network.volts[NODE.outP]! - this.network.volts[NODE.outN]!;
  }

  plugV(): number {
    return this.network.volts[NODE.plugP]! - this.network.volts[NODE.plugN]!;
  }

  trainV(): number {
    return this.network.volts[NODE.trainP]! - this.network.volts[NODE.trainN]!;
  }

  poleVolts(side: Side, pole: PoleName): number {
    return this.network.volts[SIDE_NODES[side][pole]]!;
  }

  /** Everything that trickles away to chassis and through instruments. */
  leakageW(): number {
    let sum = 0;
    for (const id of this.#leakage) sum += this.network.heatW(id);
    return sum;
  }
}
