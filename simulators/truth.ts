/**
 * What really happened, independent of every sensor: running integrals and extremes for each run (the ledger),
 * and on demand a row of true node volts and branch amps every so many milliseconds.
 *
 * The writer of the truth file hands in a sink; nothing here touches a disk.
 */
import { PHASES, type Phase } from '../src/rig/roles.js';
import type { Parts } from './parts.js';

/** Columns before those of the rafts. Volts are to chassis; amps positive into the train; flags 0 or 1. */
const COMMON_COLUMNS = [
  'tMs',
  /** Index in PHASES, as last told by the supervisor. */
  'phase',
  'outPositiveV',
  'outNegativeV',
  'plugPositiveV',
  'plugNegativeV',
  'trainPositiveV',
  'trainNegativeV',
  'converterA',
  'poleP_A',
  'poleN_A',
  'preA',
  'lineA',
  'poleP',
  'poleN',
  'polePre',
  'trainPoleP',
  'trainPoleN',
  'seated',
  'locked',
  'bleedOutput',
  'bleedPlug',
  /** Set-point in force in the converter, and the voltage its voltage loop holds at most. */
  'setpointA',
  'referenceV',
  'supplyW',
  'supplyHz',
  'cableC',
  'contactC',
  /** Since the start: drawn from the supply, and into the rafts at their terminals. */
  'supplyKwh',
  'raftsKwh',
  /** The protective bond, and whether the train stands, braked, with traction inhibited. */
  'bondOhm',
  'immobile',
] as const;

/** For each raft: amps at its terminals, true state of charge, mean cell temperature, joined. */
const RAFT_COLUMNS = ['A', 'Soc', 'CellC', 'Joined'] as const;

export function truthColumns(rafts: number): readonly string[] {
  const columns: string[] = [...COMMON_COLUMNS];
  for (let n = 1; n <= rafts; n++) for (const c of RAFT_COLUMNS) columns.push(`raft${n}${c}`);
  return columns;
}

export interface TruthSink {
  /** One row in the order of `truthColumns`. The array is reused: copy what is to be kept. */
  row(values: readonly number[]): void;
}

/**
 * What a perfect instrument would have told whenever somebody read one, by the names of the dictionary of readings
 * (`raft2` for a raft), at bench time `atMs`. See true-readings.ts.
 */
export type TrueReadingSink = (role: string, atMs: number, values: Readonly<Record<string, number>>) => void;

/** Where and how often rows go. */
export interface TruthRecorder {
  readonly sink: TruthSink;
  readonly reading?: TrueReadingSink;
  /** Spacing of rows; 10 when absent. */
  readonly everyMs?: number;
}

/** Integrals in J, exact for the stepped network, and extremes over every step of 1 ms. */
export class Ledger {
  supplyJ = 0;
  converterLossJ = 0;
  /** Out of the converter into the output capacitor. */
  outputJ = 0;
  /** Cable cores, plug contacts and train contactors. */
  lineLossJ = 0;
  contactorLossJ = 0;
  bleederJ = 0;
  rectifierLossJ = 0;
  leakageJ = 0;
  /** Into each raft at its terminals. */
  readonly raftJ: Float64Array;
  peakA = 0;
  leastA = 0;
  peakOutputV = 0;
  maxSetpointA = 0;
  /** Steepest rise of the 10 ms mean current over any 100 ms. */
  peakRampAPerS = 0;
  /** Greatest current at the moment a pole parted. */
  maxBrokenA = 0;
  /** Means over the last whole 10 ms: through pole P, and out of the converter. */
  poleMeanA = 0;
  converterMeanA = 0;
  readonly #recentA = new Float64Array(10);
  #recent = 0;

  constructor(rafts: number) {
    this.raftJ = new Float64Array(rafts);
  }

  /** Mean current of each 10 ms, in order. */
  ramp(meanA: number): void {
    const slot = this.#recent++ % 10;
    const riseAPerS = (meanA - this.#recentA[slot]!) / 0.1;
    this.#recentA[slot] = meanA;
    if (riseAPerS > this.peakRampAPerS) this.peakRampAPerS = riseAPerS;
  }

  raftsJ(): number {
    let sum = 0;
    for (const j of this.raftJ) sum += j;
    return sum;
  }
}

/** What a run ended on, for the acceptance of scenarios. */
export interface TruthSummary {
  readonly atMs: number;
  readonly energyAtRaftTerminalsKwh: number;
  readonly energyFromSupplyKwh: number;
  readonly lossesKwh: {
    readonly converter: number;
    readonly line: number;
    readonly contactors: number;
    readonly bleeders: number;
    readonly leakage: number;
    /** Inside the rafts: the part of the energy at their terminals that became heat. */
    readonly raftHeat: number;
  };
  readonly peakA: number;
  readonly leastA: number;
  readonly peakOutputV: number;
  readonly peakRampAPerS: number;
  readonly maxSetpointA: number;
  readonly maxBrokenA: number;
  readonly poles: { readonly p: boolean; readonly n: boolean; readonly pre: boolean };
  readonly trainPoles: { readonly p: boolean; readonly n: boolean };
  readonly outputV: number;
  readonly plugV: number;
  /** Greatest magnitude of the plug's poles to chassis. */
  readonly plugToChassisV: number;
  readonly trainV: number;
  readonly seated: boolean;
  readonly locked: boolean;
  /** Unlocked: a person can draw the plug. */
  readonly plugFree: boolean;
  readonly raftSoc: readonly number[];
}

const kwh = (joule: number) => joule / 3.6e6;

export function summarise(parts: Parts, ledger: Ledger, atMs: number): TruthSummary {
  const { circuit, stand } = parts;
  return {
    atMs,
    energyAtRaftTerminalsKwh: kwh(ledger.raftsJ()),
    energyFromSupplyKwh: kwh(ledger.supplyJ),
    lossesKwh: {
      converter: kwh(ledger.converterLossJ),
      line: kwh(ledger.lineLossJ),
      contactors: kwh(ledger.contactorLossJ),
      bleeders: kwh(ledger.bleederJ),
      leakage: kwh(ledger.leakageJ + ledger.rectifierLossJ),
      raftHeat: kwh(parts.rafts.reduce((sum, raft) => sum + raft.heatJ, 0)),
    },
    peakA: ledger.peakA,
    leastA: ledger.leastA,
    peakOutputV: ledger.peakOutputV,
    peakRampAPerS: ledger.peakRampAPerS,
    maxSetpointA: ledger.maxSetpointA,
    maxBrokenA: ledger.maxBrokenA,
    poles: { p: parts.poleP.closed, n: parts.poleN.closed, pre: parts.polePre.closed },
    trainPoles: { p: parts.train.p.closed, n: parts.train.n.closed },
    outputV: circuit.outputV(),
    plugV: circuit.plugV(),
    plugToChassisV: Math.max(
      Math.abs(circuit.poleVolts('cable', 'p')),
      Math.abs(circuit.poleVolts('cable', 'n')),
    ),
    trainV: circuit.trainV(),
    seated: stand.seated,
    locked: stand.locked,
    plugFree: !stand.locked,
    raftSoc: parts.rafts.map((raft) => raft.soc),
  };
}

/** Fills one row; `into` is reused from row to row. */
export function truthRow(into: number[], parts: Parts, ledger: Ledger, atMs: number, phase: Phase): void {
  const { circuit, converter, stand, bleeders, supply, cable } = parts;
  const values = [
    atMs,
    PHASES.indexOf(phase),
    circuit.poleVolts('charger', 'p'),
    circuit.poleVolts('charger', 'n'),
    circuit.poleVolts('cable', 'p'),
    circuit.poleVolts('cable', 'n'),
    circuit.poleVolts('train', 'p'),
    circuit.poleVolts('train', 'n'),
    converter.sourceA - circuit.rectifierA(),
    circuit.poleA('p'),
    circuit.poleA('n'),
    circuit.preA(),
    circuit.lineA('p'),
    Number(parts.poleP.closed),
    Number(parts.poleN.closed),
    Number(parts.polePre.closed),
    Number(parts.train.p.closed),
    Number(parts.train.n.closed),
    Number(stand.seated),
    Number(stand.locked),
    Number(bleeders.on.output),
    Number(bleeders.on.plug),
    converter.referenceA,
    converter.referenceV,
    supply.powerW,
    supply.frequencyHz(),
    cable.conductorC,
    Math.max(cable.contactC.p, cable.contactC.n),
    kwh(ledger.supplyJ),
    kwh(ledger.raftsJ()),
    stand.bondOhm,
    Number(stand.atStand && stand.brakeOn && stand.tractionInhibited),
  ];
  let k = 0;
  for (const value of values) into[k++] = value;
  for (let i = 0; i < parts.rafts.length; i++) {
    const raft = parts.rafts[i]!;
    into[k++] = circuit.raftA(i);
    into[k++] = raft.soc;
    into[k++] = raft.cellC;
    into[k++] = Number(raft.stage === 'joined');
  }
}
