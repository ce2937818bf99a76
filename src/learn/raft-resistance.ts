/**
 * The resistance of one raft in one session: the raft of the simulator, driven by the recorded current and the
 * recorded cell temperature from the recorded charge on, gives the volts its resistances should add to its
 * open-circuit volts. One factor on all of them is fitted to the recorded volts.
 *
 * What else a record may be off by is fitted beside it, held to what it can be: the level of the voltmeter and of the
 * open-circuit curve, the charge it began with, the capacity, and what the slow pair still held from the drive before.
 * The bars are left as they are: joints do not age as cells do.
 */
import { Raft } from '../../simulators/raft.js';
import type { SeededRandom } from '../../simulators/seeded-random.js';
import type { Values } from '../audit/line-reader.js';
import type { Rig } from '../rig/schema.js';
import { Bins } from './bins.js';
import { about, free, layCurve } from './curve.js';
import { MOST_UNREAD, missing, sureEnough, TOO_LITTLE_CURRENT, TOO_SHORT, type Told } from './told.js';

/** Nothing of what a raft draws at random is looked at. */
const MIDDLE = { between: (low: number, high: number) => (low + high) / 2 } as SeededRandom;
/** Without a reading for longer nobody knows what flowed, and the record ends for this raft. */
const LONGEST_GAP_S = 5;
/** Under at least so much of its greatest current for so long. */
const LEAST_CURRENT_SHARE = 0.1;
const LEAST_S = 15;
/** One standard deviation each; common practice for a voltmeter, a management unit and a used battery. */
const PRIOR = { levelCellV: 0.01, soc: 0.01, capacityShare: 0.1, slowCellV: 0.01 };
/** Half a count of packV, spread evenly over a second's rows. */
const LEAST_SD_V = 0.02;
/** More than this left over per cell is no raft of this kind. */
const MOST_LEFT_CELL_V = 0.02;

export class RaftResistance {
  readonly #figures: Rig['battery']['raft'];
  #raft: Raft | null = null;
  #socStart = 0;
  #startS = 0;
  #lastS = 0;
  #lastA = 0;
  #sample = Number.NaN;
  #underCurrentS = 0;
  #read = 0;
  #unread = 0;
  #lacks = '';
  #isOver = false;
  readonly #bins = new Bins();

  constructor(
    rig: Rig,
    private readonly name: string,
  ) {
    this.#figures = rig.battery.raft;
  }

  take(tS: number, value: Values): void {
    if (value.sample === this.#sample || this.#isOver) return;
    this.#sample = value.sample ?? Number.NaN;
    const { packV = Number.NaN, packA = Number.NaN, soc = Number.NaN } = value;
    const cellC = ((value.cellMinC ?? Number.NaN) + (value.cellMaxC ?? Number.NaN)) / 2;
    const lacks = Object.entries({ packV, packA, soc, cellC }).find(([, v]) => !Number.isFinite(v));
    if (lacks !== undefined) {
      this.#unread++;
      this.#lacks = lacks[0];
      return;
    }
    this.#read++;
    if (this.#raft === null) {
      const start = { soc, cellC, ambientC: cellC, spreadV: 0 };
      this.#raft = new Raft(this.#figures, 'battery', start, MIDDLE);
      this.#socStart = soc;
      this.#startS = tS;
    } else if (tS - this.#lastS > LONGEST_GAP_S) {
      this.#isOver = true;
      return;
    } else if (tS > this.#lastS) {
      this.#raft.setCellC(cellC);
      this.#raft.step(tS - this.#lastS, (this.#lastA + packA) / 2);
      const leastA = LEAST_CURRENT_SHARE * this.#figures.maxCurrentA;
      if (Math.abs(packA) >= leastA) this.#underCurrentS += tS - this.#lastS;
    }
    this.#lastS = tS;
    this.#lastA = packA;
    this.#row(this.#raft, packV, packA);
  }

  #row(raft: Raft, packV: number, packA: number): void {
    const { seriesCells, barsOhm, cell: figures } = this.#figures;
    const { cell } = raft;
    const openV = seriesCells * (cell.ocvV() + cell.hysteresisV) + packA * barsOhm;
    const lossV = seriesCells * (cell.pair1V + cell.pair2V) + packA * (raft.seriesOhm() - barsOhm);
    const slopeV = seriesCells * cell.ocvSlopeV();
    const atS = this.#lastS - this.#startS;
    const slow = seriesCells * Math.exp(-atS / figures.tau2S);
    this.#bins.add(atS, [packV - openV, lossV, slopeV, slopeV * (cell.soc - this.#socStart), slow]);
  }

  /** Factor on all resistances of the cells. */
  get result(): Told {
    const bins = this.#bins.list;
    if (this.#unread > MOST_UNREAD * (this.#read + this.#unread))
      return { why: missing(`${this.name} ${this.#lacks}`) };
    if (this.#underCurrentS === 0) return { why: TOO_LITTLE_CURRENT };
    if (this.#underCurrentS < LEAST_S) return { why: TOO_SHORT };
    const { seriesCells } = this.#figures;
    const column = (k: number): Float64Array => Float64Array.from(bins, ({ values }) => values[k]!);
    const columns = [column(1), column(2), column(3), column(4)];
    const laid = layCurve({
      measured: column(0),
      unknowns: [
        free(1),
        about(0, PRIOR.soc),
        about(0, PRIOR.capacityShare),
        about(0, PRIOR.slowCellV),
        about(0, PRIOR.levelCellV * seriesCells),
      ],
      at: (p) => Float64Array.from(bins, (_, k) => columns.reduce((sum, c, i) => sum + p[i]! * c[k]!, p[4]!)),
      leastSd: LEAST_SD_V,
    });
    if (!(laid.rms <= MOST_LEFT_CELL_V * seriesCells)) return { why: 'does not follow the model of a raft' };
    return sureEnough(laid.at[0]!, laid.errors[0]!, TOO_LITTLE_CURRENT);
  }
}
