/**
 * The mean cell of a raft: open-circuit volts over state of charge, hysteresis, series resistance, two R-C pairs and
 * its own heat. Equations and parameters (all of them from the rig's cell block, each with its source there):
 *
 *     ds/dt  = I / (3600 Q)                          s state of charge, Q capacity in Ah, I positive charging
 *     dvk/dt = (I·Rk(s)·w − vk) / τk                 k = 1, 2; w factor of the temperature
 *     dh/dt  = |I| / (3600 Q·x) · (H(s)·sign I − h)  h hysteresis, H its size, x the share of Q it turns over in
 *     V      = U(s) + h + v1 + v2 + I·R0(s)·w
 *     C·dT/dt = I·(I·R0·w + v1 + v2 + h) − (T − ambient)/Rth
 *
 * Resistances come from one value each or from a table over the state of charge; the factor of the temperature from
 * a table, or doubling for each so many kelvin below 25 °C. Within a step the current is constant, for which the
 * first three lines are solved exactly; the temperature, with time constants of minutes, goes by Euler's rule.
 */
import type { Rig } from '../src/rig/schema.js';

export type CellFigures = Rig['battery']['raft']['cell'];

const GRID = 1000;
const REFERENCE_C = 25;
/** Resistances are looked up again when the temperature has moved by this. */
const STALE_K = 0.01;

/** A table on an even grid over 0..1, so that a look-up is one multiplication; level beyond its ends. */
export function evenGrid<T>(
  table: readonly T[],
  at: (point: T) => number,
  value: (point: T) => number,
): Float64Array {
  const sorted = [...table].sort((a, b) => at(a) - at(b));
  const grid = new Float64Array(GRID + 1);
  let k = 0;
  for (let i = 0; i <= GRID; i++) {
    const x = i / GRID;
    while (k + 2 < sorted.length && at(sorted[k + 1]!) < x) k++;
    const low = sorted[k]!;
    const high = sorted[k + 1]!;
    const share = Math.min(1, Math.max(0, (x - at(low)) / (at(high) - at(low))));
    grid[i] = value(low) + (value(high) - value(low)) * share;
  }
  return grid;
}

/** Between the points of a grid; clamped at its ends. */
function onGrid(grid: Float64Array, share: number): number {
  const x = Math.min(Math.max(share, 0), 1) * GRID;
  const i = Math.min(GRID - 1, Math.floor(x));
  return grid[i]! + (grid[i + 1]! - grid[i]!) * (x - i);
}

export class Cell {
  readonly #figures: CellFigures;
  readonly #ocv: Float64Array;
  /** Null: the same at every state of charge. */
  readonly #r0: Float64Array | null;
  readonly #r1: Float64Array | null;
  readonly #r2: Float64Array | null;
  readonly #hysteresis: Float64Array | null;
  readonly #ambientC: number;
  soc: number;
  cellC: number;
  /** Volts of the R-C pairs. */
  pair1V = 0;
  pair2V = 0;
  hysteresisV = 0;
  /** Heat made so far, J. */
  heatJ = 0;
  coolingLost = false;
  extraHeatKPerS = 0;
  #factor = 1;
  #factorAtC = Number.NaN;
  // Shares by which each pair approaches its end value in one step.
  #stepS = Number.NaN;
  #pair1Share = 0;
  #pair2Share = 0;

  constructor(figures: CellFigures, start: { soc: number; cellC: number; ambientC: number }) {
    this.#figures = figures;
    const { overSoc, hysteresis } = figures;
    const grid = (pick: 'r0Ohm' | 'r1Ohm' | 'r2Ohm') =>
      overSoc === undefined
        ? null
        : evenGrid(
            overSoc,
            (p) => p.soc,
            (p) => p[pick],
          );
    this.#ocv = evenGrid(
      figures.ocv,
      (p) => p.soc,
      (p) => p.v,
    );
    this.#r0 = grid('r0Ohm');
    this.#r1 = grid('r1Ohm');
    this.#r2 = grid('r2Ohm');
    this.#hysteresis =
      hysteresis === undefined
        ? null
        : evenGrid(
            hysteresis.over,
            (p) => p.soc,
            (p) => p.v,
          );
    this.#ambientC = start.ambientC;
    this.soc = start.soc;
    this.cellC = start.cellC;
    this.#warm();
  }

  ocvV(): number {
    return onGrid(this.#ocv, this.soc);
  }

  /** Behind the series resistance. */
  emfV(): number {
    return this.ocvV() + this.pair1V + this.pair2V + this.hysteresisV;
  }

  /** Series resistance as it is now. */
  r0Ohm(): number {
    return this.#factor * (this.#r0 === null ? this.#figures.r0Ohm : onGrid(this.#r0, this.soc));
  }

  /** Slope of the open-circuit volts, V per unit of charge. */
  ocvSlopeV(): number {
    const apart = 2 / GRID;
    return (onGrid(this.#ocv, this.soc + apart) - onGrid(this.#ocv, this.soc - apart)) / (2 * apart);
  }

  setC(cellC: number): void {
    this.cellC = cellC;
    this.#warm();
  }

  /** A constant current for so long. Returns the heat power, W. */
  step(stepS: number, currentA: number): number {
    const figures = this.#figures;
    if (stepS !== this.#stepS) {
      this.#stepS = stepS;
      this.#pair1Share = 1 - Math.exp(-stepS / figures.tau1S);
      this.#pair2Share = 1 - Math.exp(-stepS / figures.tau2S);
    }
    const moved = (currentA * stepS) / (figures.capacityAh * 3600);
    this.soc += moved;
    const r1 = this.#r1 === null ? figures.r1Ohm : onGrid(this.#r1, this.soc);
    const r2 = this.#r2 === null ? figures.r2Ohm : onGrid(this.#r2, this.soc);
    this.pair1V += (currentA * r1 * this.#factor - this.pair1V) * this.#pair1Share;
    this.pair2V += (currentA * r2 * this.#factor - this.pair2V) * this.#pair2Share;
    if (this.#hysteresis !== null && moved !== 0) {
      const kept = Math.exp(-Math.abs(moved) / figures.hysteresis!.turnsOverShare);
      const end = onGrid(this.#hysteresis, this.soc) * Math.sign(currentA);
      this.hysteresisV = end + (this.hysteresisV - end) * kept;
    }
    const heatW = currentA * (currentA * this.r0Ohm() + this.pair1V + this.pair2V + this.hysteresisV);
    this.heatJ += heatW * stepS;
    const coolingW = this.coolingLost ? 0 : (this.cellC - this.#ambientC) / figures.thermalResistanceKPerW;
    this.cellC += ((heatW - coolingW) / figures.heatCapacityJPerK + this.extraHeatKPerS) * stepS;
    this.#warm();
    return heatW;
  }

  #warm(): void {
    if (Math.abs(this.cellC - this.#factorAtC) < STALE_K) return;
    this.#factorAtC = this.cellC;
    this.#factor = temperatureFactor(this.#figures, this.cellC);
  }
}

/** By which all resistances of a cell are multiplied at a temperature; 1 at 25 °C. Level beyond the table. */
export function temperatureFactor(figures: CellFigures, cellC: number): number {
  const table = figures.overTemperature;
  if (table === undefined)
    return cellC < REFERENCE_C ? 2 ** ((REFERENCE_C - cellC) / figures.coldDoublingK) : 1;
  let k = 0;
  while (k + 2 < table.length && table[k + 1]!.cellC < cellC) k++;
  const low = table[k]!;
  const high = table[k + 1]!;
  const share = Math.min(1, Math.max(0, (cellC - low.cellC) / (high.cellC - low.cellC)));
  return low.factor + (high.factor - low.factor) * share;
}
