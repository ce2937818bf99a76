/**
 * One battery raft: open-circuit volts over state of charge, series resistance, two R-C pairs, heat, cell spread,
 * and its contactors with their limiting resistor. Towards the network it is an e.m.f. behind a resistance.
 *
 * All cell figures are for the mean cell; the weakest and strongest cells lie a constant spread around it.
 */
import type { Rig } from '../src/rig/schema.js';
import { ManagementUnit } from './management-unit.js';
import type { SeededRandom } from './seeded-random.js';

/** Joining goes through this resistor first, so that a bus capacitor or a lower raft is met softly. */
const LIMITING_OHM = 50;
const LIMITING_MS = 300;
const CONTACTOR_MS = 40;
const OCV_POINTS = 1000;

export interface RaftStart {
  readonly soc: number;
  readonly cellC: number;
  readonly ambientC: number;
  /** Highest cell minus lowest cell. */
  readonly spreadV: number;
}

/** Open-circuit volts on an even grid over 0..1, so that a look-up is one multiplication. */
export function ocvGrid(table: readonly { readonly soc: number; readonly v: number }[]): Float64Array {
  const sorted = [...table].sort((a, b) => a.soc - b.soc);
  const grid = new Float64Array(OCV_POINTS + 1);
  let k = 0;
  for (let i = 0; i <= OCV_POINTS; i++) {
    const soc = i / OCV_POINTS;
    while (k + 2 < sorted.length && sorted[k + 1]!.soc < soc) k++;
    const low = sorted[k]!;
    const high = sorted[k + 1]!;
    const share = Math.min(1, Math.max(0, (soc - low.soc) / (high.soc - low.soc)));
    grid[i] = low.v + (high.v - low.v) * share;
  }
  return grid;
}

export class Raft {
  readonly #rig: Rig['battery']['raft'];
  readonly #grid: Float64Array;
  readonly #ambientC: number;
  readonly kind: 'battery' | 'generator';
  soc: number;
  cellC: number;
  /** Voltages of the R-C pairs of the mean cell. */
  pair1V = 0;
  pair2V = 0;
  /** Mean current of the last slow step, positive charging. */
  packA = 0;
  spreadV: number;
  /** Between hottest and coldest cell, at rest and added by load. */
  readonly #spreadK: number;
  readonly #socErrorShare: number;
  isolationOhm: number;
  readonly unit: ManagementUnit;
  stage: 'parted' | 'limiting' | 'joined' = 'parted';
  #wantsJoined = false;
  dueMs = Number.POSITIVE_INFINITY;
  /** Generator rafts only. */
  generatorRunning = false;
  /** Fault: cell volts added to the strongest cell. */
  highCellV = 0;
  /** Fault: cell volts taken from the weakest cell. */
  lowCellV = 0;
  coolingLost = false;
  extraHeatKPerS = 0;
  /** Fault: its contactors have dropped out and do not obey. */
  droppedOut = false;
  /** Heat made in the cells so far, J. */
  heatJ = 0;
  #coldFactor = 1;
  #coldAtC = Number.NaN;
  // Shares by which each pair approaches its end value in one slow step.
  #stepS = Number.NaN;
  #pair1Share = 0;
  #pair2Share = 0;

  constructor(
    rig: Rig['battery']['raft'],
    kind: 'battery' | 'generator',
    start: RaftStart,
    random: SeededRandom,
  ) {
    this.#rig = rig;
    this.kind = kind;
    this.#grid = ocvGrid(rig.cell.ocv);
    this.#ambientC = start.ambientC;
    this.soc = start.soc;
    this.cellC = start.cellC;
    this.spreadV = start.spreadV;
    this.#spreadK = random.between(0.4, 1.2);
    this.#socErrorShare = random.between(-0.002, 0.002);
    this.isolationOhm = random.between(2e6, 5e6);
    this.unit = new ManagementUnit(rig);
    this.#cold();
    this.unit.settle(this.cellMaxV(), this.cellMinC(), this.cellMaxC());
  }

  ocvCellV(): number {
    const x = Math.min(Math.max(this.soc, 0), 1) * OCV_POINTS;
    const i = Math.min(OCV_POINTS - 1, Math.floor(x));
    return this.#grid[i]! + (this.#grid[i + 1]! - this.#grid[i]!) * (x - i);
  }

  /** Behind the series resistance. */
  emfV(): number {
    return this.#rig.seriesCells * (this.ocvCellV() + this.pair1V + this.pair2V);
  }

  /** Of the whole raft, bars included, contactors closed. */
  seriesOhm(): number {
    const cells = (this.#rig.seriesCells * this.#rig.cell.r0Ohm * this.#coldFactor) / this.#rig.parallelCells;
    return cells + this.#rig.barsOhm;
  }

  /** What the network sees; null when parted. */
  branchOhm(): number | null {
    if (this.stage === 'parted') return null;
    return this.stage === 'limiting' ? this.seriesOhm() + LIMITING_OHM : this.seriesOhm();
  }

  packV(): number {
    return this.emfV() + this.packA * this.seriesOhm();
  }

  meanCellV(): number {
    const cellA = this.packA / this.#rig.parallelCells;
    return this.ocvCellV() + this.pair1V + this.pair2V + cellA * this.#rig.cell.r0Ohm * this.#coldFactor;
  }

  cellMaxV(): number {
    return this.meanCellV() + this.spreadV / 2 + this.highCellV;
  }

  cellMinV(): number {
    return this.meanCellV() - this.spreadV / 2 - this.lowCellV;
  }

  cellMaxC(): number {
    return this.cellC + this.#spreadK;
  }

  cellMinC(): number {
    return this.cellC - this.#spreadK;
  }

  reportedSoc(): number {
    return Math.min(1, Math.max(0, this.soc + this.#socErrorShare));
  }

  order(join: boolean, nowMs: number): void {
    if (this.kind === 'generator' || this.droppedOut || join === this.#wantsJoined) return;
    this.#wantsJoined = join;
    this.dueMs = nowMs + CONTACTOR_MS;
  }

  dropOut(): void {
    this.droppedOut = true;
    this.stage = 'parted';
    this.dueMs = Number.POSITIVE_INFINITY;
    this.#wantsJoined = false;
  }

  /** Ends a contactor movement that is due. Returns true when the branch changed. */
  settle(nowMs: number): boolean {
    if (nowMs < this.dueMs) return false;
    if (!this.#wantsJoined) {
      this.stage = 'parted';
      this.dueMs = Number.POSITIVE_INFINITY;
    } else if (this.stage === 'parted') {
      this.stage = 'limiting';
      this.dueMs = nowMs + LIMITING_MS;
    } else {
      this.stage = 'joined';
      this.dueMs = Number.POSITIVE_INFINITY;
    }
    return true;
  }

  /** Slow part: `meanA` is the mean pack current over the step. Exact for a constant current within it. */
  step(stepS: number, meanA: number): void {
    const cell = this.#rig.cell;
    if (stepS !== this.#stepS) {
      this.#stepS = stepS;
      this.#pair1Share = 1 - Math.exp(-stepS / cell.tau1S);
      this.#pair2Share = 1 - Math.exp(-stepS / cell.tau2S);
    }
    this.packA = meanA;
    const cellA = meanA / this.#rig.parallelCells;
    this.soc += (cellA * stepS) / (cell.capacityAh * 3600);
    const r1 = cell.r1Ohm * this.#coldFactor;
    const r2 = cell.r2Ohm * this.#coldFactor;
    this.pair1V += (cellA * r1 - this.pair1V) * this.#pair1Share;
    this.pair2V += (cellA * r2 - this.pair2V) * this.#pair2Share;
    const heatW = cellA * (cellA * cell.r0Ohm * this.#coldFactor + this.pair1V + this.pair2V);
    const cells = this.#rig.seriesCells * this.#rig.parallelCells;
    this.heatJ += (heatW * cells + meanA * meanA * this.#rig.barsOhm) * stepS;
    const coolingW = this.coolingLost ? 0 : (this.cellC - this.#ambientC) / cell.thermalResistanceKPerW;
    this.cellC += ((heatW - coolingW) / cell.heatCapacityJPerK + this.extraHeatKPerS) * stepS;
    this.#cold();
    this.unit.step(stepS, this.cellMaxV(), this.cellMinV(), this.cellMinC(), this.cellMaxC());
  }

  setCellC(cellC: number): void {
    this.cellC = cellC;
    this.#cold();
    this.unit.settle(this.cellMaxV(), this.cellMinC(), this.cellMaxC());
  }

  /** Resistance doubles for each so many kelvin below 25 °C. */
  #cold(): void {
    if (Math.abs(this.cellC - this.#coldAtC) < 0.01) return;
    this.#coldAtC = this.cellC;
    this.#coldFactor = this.cellC < 25 ? 2 ** ((25 - this.cellC) / this.#rig.cell.coldDoublingK) : 1;
  }
}
