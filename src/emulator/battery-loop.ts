/**
 * The closed loop of an emulated battery: in each round the instrument is read, the model is told, and the instrument
 * is given the voltage the model has for that current. Off comes first: an order to open the train switches the
 * output off at once and past everything, and it counts as open when that is read back.
 *
 * It gives up, with the output off for good, when the instrument is silent, refuses, does not hold the voltage it is
 * given, or carries more than its map permits. What it cannot guard against is its own death: that is what the
 * instrument's own watchdog in the map is for, or the hard-wired stop.
 */
import type { Clock } from '../host/clock.js';
import type { Readings, Talk, Trouble } from '../instruments/talk.js';
import type { InstrumentMap } from '../rig/instrument-schema.js';
import type { EmulatedTrain } from './emulated-train.js';

/** Without readings for so many times the time an answer may take it gives up: one lost answer costs three of them. */
const MAX_SILENT = 5;
/** Refusals in a row before it gives up. */
const MAX_REFUSED = 3;
/** Rounds in a row in which the volts are elsewhere than set. */
const MAX_ASTRAY = 10;
const ASTRAY_SHARE = 0.03;
/** Rounds in which an output that was ordered off may still read on. */
const MAX_NOT_OFF = 10;

export interface LoopOptions {
  readonly clock: Clock;
  readonly map: InstrumentMap;
  readonly talk: Talk;
  readonly train: EmulatedTrain;
  readonly pollMs: number;
  /** Worth telling a person. */
  told(text: string): void;
}

export class BatteryLoop {
  #busy = false;
  #isOn = false;
  #setV = Number.NaN;
  #readMs = Number.NaN;
  #refused = 0;
  #astray = 0;
  #notOff = 0;
  #stopped = false;
  #cancel: () => void = () => {};

  constructor(private readonly options: LoopOptions) {}

  /** The output was read on last. */
  get isOn(): boolean {
    return this.#isOn;
  }

  start(): void {
    this.#readMs = this.options.clock.nowMs();
    this.#beat();
  }

  /** No more rounds; the output is ordered off. */
  stop(): void {
    this.#stopped = true;
    this.#cancel();
    this.options.talk.offAtOnce();
  }

  /** The train was ordered open: before the next round. */
  openNow(): void {
    if (!this.options.train.wantsOn) this.options.talk.offAtOnce();
  }

  #beat(): void {
    if (this.#stopped) return;
    this.#round();
    this.#cancel = this.options.clock.after(this.options.pollMs, () => this.#beat());
  }

  #round(): void {
    if (this.#busy) return;
    this.#busy = true;
    const { talk, train, map } = this.options;
    if (!train.wantsOn) {
      this.#setV = Number.NaN;
      if (this.#isOn) talk.output(false, (trouble) => this.#then(trouble));
      else this.#read();
      return;
    }
    const volts = Math.min(train.targetV, map.limits.maxVoltageV);
    talk.set(map.limits.maxCurrentA, volts, (trouble) => {
      if (trouble !== null || !train.wantsOn) {
        this.#then(trouble);
        return;
      }
      this.#setV = volts;
      if (this.#isOn) this.#read();
      else talk.output(true, (refused) => this.#then(refused));
    });
  }

  #then(trouble: Trouble | null): void {
    if (trouble === null) this.#refused = 0;
    else if (trouble.kind !== 'no-answer' && ++this.#refused >= MAX_REFUSED) this.#giveUp(trouble.text);
    this.#read();
  }

  #read(): void {
    this.options.talk.read((readings, trouble) => {
      this.#busy = false;
      if (readings === null) {
        const silentMs = this.options.clock.nowMs() - this.#readMs;
        if (silentMs > MAX_SILENT * this.options.map.timing.answerMs)
          this.#giveUp(`nothing read for ${Math.round(silentMs)} ms: ${trouble?.text ?? ''}`);
        return;
      }
      this.#readMs = this.options.clock.nowMs();
      this.#judge(readings);
    });
  }

  #judge(readings: Readings): void {
    const { train, map } = this.options;
    const of = (name: string): number => readings[name] ?? Number.NaN;
    const [volts, amps] = [of('loadV'), of('loadA')];
    // What cannot be read is not off.
    this.#isOn = !(of('outputOn') === 0);
    train.take({ volts, amps, isOn: this.#isOn });
    this.#notOff = this.#isOn && !train.wantsOn ? this.#notOff + 1 : 0;
    if (this.#notOff >= MAX_NOT_OFF) this.#giveUp('the output was ordered off and still reads on: KEEP AWAY');
    if (!this.#isOn || !train.wantsOn) {
      this.#astray = 0;
      return;
    }
    if ('fault' in readings && !(of('fault') === 0)) this.#giveUp(`the instrument says fault ${of('fault')}`);
    if (!(Math.abs(amps) <= map.limits.maxCurrentA)) this.#giveUp(`it carries ${amps} A`);
    const near = Math.abs(volts - this.#setV) <= ASTRAY_SHARE * this.#setV;
    this.#astray = near ? 0 : this.#astray + 1;
    if (this.#astray >= MAX_ASTRAY)
      this.#giveUp(`it reads ${volts} V and was set to ${this.#setV.toFixed(1)} V`);
  }

  #giveUp(why: string): void {
    const { train, talk, told } = this.options;
    if (train.failed === null) told(`the emulation has ended: ${why}`);
    train.fail(why);
    talk.offAtOnce();
  }
}
