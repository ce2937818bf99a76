/**
 * One battery raft: its mean cell (cell.ts), the spread of its cells and of its parallel strings, its management
 * unit, and its contactors with their limiting resistor. Towards the network it is an e.m.f. behind a resistance.
 *
 * The weakest and strongest cells lie a spread around the mean, which balancing draws together. Parallel strings
 * differ in resistance by `stringSpread`: they share the current by conductance, so the raft's resistance is their
 * harmonic mean, and the cells of the lowest string warm with the square of their greater share.
 */
import type { Rig } from '../src/rig/schema.js';
import { Cell, evenGrid } from './cell.js';
import { ManagementUnit } from './management-unit.js';
import type { SeededRandom } from './seeded-random.js';

/** Joining goes through this resistor first, so that a bus capacitor or a lower raft is met softly. */
const LIMITING_OHM = 50;
const LIMITING_MS = 300;
const CONTACTOR_MS = 40;
/** Leads of an instrument that stands in the place of a raft. */
const LEADS_OHM = 0.01;

export interface RaftStart {
  readonly soc: number;
  readonly cellC: number;
  readonly ambientC: number;
  /** Highest cell minus lowest cell. */
  readonly spreadV: number;
}

/** Open-circuit volts on an even grid over 0..1. */
export const ocvGrid = (table: readonly { readonly soc: number; readonly v: number }[]): Float64Array =>
  evenGrid(
    table,
    (p) => p.soc,
    (p) => p.v,
  );

export class Raft {
  readonly #rig: Rig['battery']['raft'];
  readonly cell: Cell;
  readonly kind: 'battery' | 'generator';
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
  /** An instrument stands in its place and holds these volts behind its leads. */
  heldV: number | null = null;
  /** Fault: its contactors have dropped out and do not obey. */
  droppedOut = false;
  /** Heat made in cells and bars so far, J. */
  heatJ = 0;
  /** Resistance of the parallel strings together, as a share of that of equal ones. */
  readonly #stringsShare: number;
  /** Current of the string with the least resistance, as a share of the mean. */
  readonly #hotShare: number;
  /** By which that string's cells are warmer than the mean one. */
  #hotK = 0;

  constructor(
    rig: Rig['battery']['raft'],
    kind: 'battery' | 'generator',
    start: RaftStart,
    random: SeededRandom,
  ) {
    this.#rig = rig;
    this.kind = kind;
    this.cell = new Cell(rig.cell, start);
    this.spreadV = start.spreadV;
    this.#spreadK = random.between(0.4, 1.2);
    this.#socErrorShare = random.between(-0.002, 0.002);
    this.isolationOhm = random.between(2e6, 5e6);
    this.unit = new ManagementUnit(rig);
    const strings = stringShares(rig.parallelCells, rig.stringSpread ?? 0);
    this.#stringsShare = strings.together;
    this.#hotShare = strings.most;
    this.unit.settle(this.cellMaxV(), this.cellMinC(), this.cellMaxC());
  }

  get soc(): number {
    return this.cell.soc;
  }

  get cellC(): number {
    return this.cell.cellC;
  }

  /** Volts of the R-C pairs of the mean cell. */
  get pair1V(): number {
    return this.cell.pair1V;
  }

  get pair2V(): number {
    return this.cell.pair2V;
  }

  set coolingLost(lost: boolean) {
    this.cell.coolingLost = lost;
  }

  set extraHeatKPerS(rate: number) {
    this.cell.extraHeatKPerS = rate;
  }

  ocvCellV(): number {
    return this.cell.ocvV();
  }

  /** Behind the series resistance. */
  emfV(): number {
    if (this.heldV !== null) return this.heldV;
    return this.#rig.seriesCells * this.cell.emfV();
  }

  /** Of the whole raft, bars included, contactors closed. */
  seriesOhm(): number {
    if (this.heldV !== null) return LEADS_OHM;
    const { seriesCells, parallelCells, barsOhm } = this.#rig;
    return (seriesCells * this.cell.r0Ohm() * this.#stringsShare) / parallelCells + barsOhm;
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
    return this.cell.emfV() + cellA * this.cell.r0Ohm();
  }

  cellMaxV(): number {
    return this.meanCellV() + this.spreadV / 2 + this.highCellV;
  }

  cellMinV(): number {
    return this.meanCellV() - this.spreadV / 2 - this.lowCellV;
  }

  cellMaxC(): number {
    return this.cell.cellC + this.#spreadK + this.#hotK;
  }

  cellMinC(): number {
    return this.cell.cellC - this.#spreadK;
  }

  reportedSoc(): number {
    return Math.min(1, Math.max(0, this.cell.soc + this.#socErrorShare));
  }

  order(join: boolean, nowMs: number): void {
    if (this.kind === 'generator' || this.droppedOut || join === this.#wantsJoined) return;
    this.#wantsJoined = join;
    this.dueMs = nowMs + CONTACTOR_MS;
  }

  /** An instrument in its place holds these volts; null: its input is off. */
  hold(volts: number | null): void {
    this.heldV = volts;
    this.stage = volts === null ? 'parted' : 'joined';
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
    const { cell: figures, seriesCells, parallelCells, barsOhm } = this.#rig;
    this.packA = meanA;
    const heatW = this.cell.step(stepS, meanA / parallelCells);
    this.heatJ += (heatW * seriesCells * parallelCells + meanA * meanA * barsOhm) * stepS;
    if (this.#hotShare > 1) {
      const beyondW = heatW * (this.#hotShare - 1) - this.#hotK / figures.thermalResistanceKPerW;
      this.#hotK += (beyondW / figures.heatCapacityJPerK) * stepS;
    }
    if (this.#rig.balancing !== undefined)
      this.spreadV -= this.unit.balancedV(stepS, this.cellMaxV(), this.spreadV, this.cell.ocvSlopeV());
    const meanV = this.meanCellV();
    const highV = meanV + this.spreadV / 2 + this.highCellV;
    const lowV = meanV - this.spreadV / 2 - this.lowCellV;
    this.unit.step(stepS, highV, lowV, this.cellMinC(), this.cellMaxC());
  }

  setCellC(cellC: number): void {
    this.cell.setC(cellC);
    this.unit.settle(this.cellMaxV(), this.cellMinC(), this.cellMaxC());
  }
}

/** Parallel strings whose resistances lie evenly from 1 − spread to 1 + spread of their mean. */
function stringShares(count: number, spread: number): { together: number; most: number } {
  if (!(spread > 0) || count < 2) return { together: 1, most: 1 };
  let conductance = 0;
  for (let i = 0; i < count; i++) conductance += 1 / (1 + spread * ((2 * i) / (count - 1) - 1));
  const mean = conductance / count;
  return { together: 1 / mean, most: 1 / (1 - spread) / mean };
}
