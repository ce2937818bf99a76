/**
 * A train that is a model: its rafts are those of the simulated bench (cells, spread, management unit), its bus is an
 * instrument's terminals. The firmware of a simulated device answers the supervisor for it; the loop tells it what was
 * measured and asks it what voltage the instrument is to hold.
 *
 * Contactors are the instrument's output: a train that was closed is open again when the output reads off. A part that has not been
 * measured anew does not advance its sample counter, so that a silent instrument is seen as a silent train.
 */
import type { Plant } from '../../simulators/plant.js';
import { Raft } from '../../simulators/raft.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { Order } from '../rig/orders.js';
import type { ReadingOf, Role } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';

export interface TrainStart {
  readonly soc: number;
  readonly cellC: number;
  readonly ambientC: number;
  readonly seed: number;
}

/** What the instrument read at its own terminals. */
export interface Measured {
  readonly volts: number;
  /** Positive into the train. */
  readonly amps: number;
  readonly isOn: boolean;
}

const SLOW_MS = 10;
/**
 * Share of a new current that is answered with a new voltage in each round. A battery answers at once, the loop a
 * round later: undamped it would swing against a charger that regulates voltage. With a fifth it is stable as long as
 * the loop outside has more than a ninth of the resistance of the rafts.
 */
const ANSWER_SHARE = 0.2;
const COUNTER = 65536;
/** A raft's management unit raises this when the emulation has failed. */
const STOP_ALARM = 2;

export class EmulatedTrain implements Plant {
  nowMs = 0;
  readonly rafts: readonly Raft[];
  #wantsClosed = false;
  #measured: Measured = { volts: Number.NaN, amps: 0, isOn: false };
  #answeredA = 0;
  #sample = 0;
  #failed: string | null = null;

  constructor(
    private readonly rig: Rig,
    start: TrainStart,
  ) {
    const random = new SeededRandom(start.seed);
    this.rafts = rig.battery.rafts.map(
      ({ kind }, i) => new Raft(rig.battery.raft, kind, { ...start, spreadV: 0.01 }, random.fork(`raft${i}`)),
    );
  }

  /** The instrument is to be on: the train is asked closed, and there is a battery behind it. */
  get wantsOn(): boolean {
    return this.#failed === null && this.#wantsClosed && this.#joined.length > 0;
  }

  /** Voltage of the bus for the current that was measured, within what the cells may have. */
  get targetV(): number {
    const { seriesCells, minCellV, maxCellV } = this.rig.battery.raft;
    const volts = this.#busV(this.#answeredA);
    return Math.min(seriesCells * maxCellV, Math.max(seriesCells * minCellV, volts));
  }

  get failed(): string | null {
    return this.#failed;
  }

  /** Nothing is emulated any more: the rafts ask for a stop, and the instrument is to be off for good. */
  fail(why: string): void {
    this.#failed ??= why;
    for (const raft of this.rafts) raft.unit.forcedAlarm = STOP_ALARM;
  }

  take(measured: Measured): void {
    this.#measured = measured;
    this.#sample = (this.#sample + 1) % COUNTER;
    const amps = measured.isOn ? measured.amps : 0;
    this.#answeredA += (amps - this.#answeredA) * (measured.isOn ? ANSWER_SHARE : 1);
  }

  // ---- as a plant -----------------------------------------------------------------------------------

  advanceTo(tMs: number): void {
    while (this.nowMs < tMs) {
      this.nowMs++;
      for (const raft of this.rafts) if (this.nowMs >= raft.dueMs) raft.settle(this.nowMs);
      if (this.nowMs % SLOW_MS !== 0) continue;
      const busV = this.#busV(this.#measured.isOn ? this.#measured.amps : 0);
      for (const raft of this.rafts) {
        const ohm = raft.branchOhm();
        raft.step(SLOW_MS / 1000, ohm === null ? 0 : (busV - raft.emfV()) / ohm);
      }
    }
  }

  apply(order: Order): void {
    if (order.name === 'close-train' || order.name === 'open-train')
      this.#wantsClosed = order.name === 'close-train';
    else if (order.name === 'join-raft' || order.name === 'part-raft')
      this.rafts[order.args.raft - 1]?.order(order.name === 'join-raft', this.nowMs);
  }

  setPhase(): void {}

  read<R extends Exclude<Role, 'device'>>(role: R, raft = 1): ReadingOf<R> {
    if (role === 'train') return this.#train() as unknown as ReadingOf<R>;
    if (role === 'raft') return this.#raft(raft) as unknown as ReadingOf<R>;
    throw new RangeError(`an emulated train has no ${role}`);
  }

  pilotWaveform(): { readonly samplesA: Float64Array; readonly spacingS: number } {
    return { samplesA: new Float64Array(0), spacingS: 1e-3 };
  }

  portDead(): boolean {
    return false;
  }

  get #joined(): readonly Raft[] {
    return this.rafts.filter((raft) => raft.branchOhm() !== null);
  }

  /** Of rafts in parallel that carry so much together; 0 without one. */
  #busV(amps: number): number {
    let siemens = 0;
    let drivenA = amps;
    for (const raft of this.#joined) {
      const ohm = raft.branchOhm() as number;
      siemens += 1 / ohm;
      drivenA += raft.emfV() / ohm;
    }
    return siemens === 0 ? 0 : drivenA / siemens;
  }

  #train(): ReadingOf<'train'> {
    const { volts, isOn } = this.#measured;
    // Ordered open, it is open when the output reads off; ordered closed without a raft, its bus is dead.
    const isClosed = this.#wantsClosed || isOn;
    return {
      sample: this.#sample,
      closedP: Number(isClosed),
      closedN: Number(isClosed),
      // Behind open contactors only the model knows the bus.
      trainV: isClosed ? volts : this.#busV(0),
    };
  }

  #raft(number: number): ReadingOf<'raft'> {
    const raft = this.rafts[number - 1];
    if (raft === undefined) throw new RangeError(`no raft ${number}`);
    const isBattery = raft.kind === 'battery';
    const known = (value: number): number => (isBattery ? value : Number.NaN);
    return {
      sample: this.#sample,
      packV: known(raft.packV()),
      packA: raft.stage === 'parted' ? 0 : raft.packA,
      joined: Number(raft.stage === 'joined'),
      isolationOhm: raft.isolationOhm,
      cellMinV: known(raft.cellMinV()),
      cellMaxV: known(raft.cellMaxV()),
      cellMinC: known(raft.cellMinC()),
      cellMaxC: known(raft.cellMaxC()),
      soc: known(raft.reportedSoc()),
      allowedA: isBattery ? raft.unit.allowedA : 0,
      alarm: isBattery ? raft.unit.alarm : 0,
      generatorRunning: isBattery ? Number.NaN : 0,
    };
  }
}
