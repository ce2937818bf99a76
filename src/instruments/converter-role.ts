/**
 * A DC source as the converter of the charger. What a source does not have is done here: the authority with its end,
 * the slope of the set-point, in steps of one round. What it must do itself is read back: output off counts as done
 * when a reading taken after the order says off; until then it is ordered again in every round.
 *
 * The voltage limit is given as ordered, without a slope: while matching, the match current is what limits the rise.
 */
import type { Clock } from '../host/clock.js';
import type { Answer, Order } from '../rig/orders.js';
import { CONVERTER_STATE, type ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Done, type InstrumentRole, Newest } from './role.js';
import { roundedDown } from './scpi-number.js';
import type { Talk, Trouble } from './talk.js';

/** Longest authority that is granted. */
const MAX_AUTHORITY_MS = 60_000;
/** Above this an output that says off still delivers, and is reported so. */
const DELIVERS_A = 0.5;
/** A set-point that could not be brought down so often: the output is switched off instead. */
const MAX_FAILED_SETS = 3;
/** Out of step, "off" is said into the dark again after so many rounds. */
const UNHEARD_ROUNDS = 8;
/** Set-points that wait for a confirmation. */
const MAX_WAITING = 64;

export interface ConverterOptions {
  readonly clock: Clock;
  readonly rig: Rig;
  readonly limits: { readonly maxCurrentA: number; readonly maxVoltageV: number };
  readonly steps: { readonly currentA: number; readonly voltageV: number };
  readonly talk: Talk;
  readonly pollMs: number;
  trouble(what: Trouble): void;
  /** The authority ran out with a set-point above zero. */
  expired(setpointA: number): void;
  /** It does not do as it is told: the device side makes safe. */
  disobeys(): void;
}

export class ConverterRole implements InstrumentRole {
  readonly role = 'converter';
  readonly #newest = new Newest();
  #on = false;
  /** Ordered off, not read back yet. */
  #offWanted = false;
  #offTimes = 0;
  #offUnheard = 0;
  #offDone: Done[] = [];
  #matchA = 0;
  #ceilingA = 0;
  #slopeAPerS = 0;
  #expiresMs = Number.POSITIVE_INFINITY;
  #targetA = 0;
  #targetV = 0;
  /** Where the slope has got to, finer than the steps of the instrument. */
  #referenceA = 0;
  /** As the instrument has confirmed them; NaN before the first. */
  #toldA = Number.NaN;
  #toldV = Number.NaN;
  #failedSets = 0;
  #setDone: Done[] = [];
  #busy = false;
  /** Rises with every switching: what was begun before it tells nothing about it. */
  #epoch = 0;

  constructor(private readonly options: ConverterOptions) {}

  get readMs(): number {
    return this.#newest.readMs;
  }
  get currentA(): number {
    return this.#newest.of('outputA');
  }
  get greatestV(): number {
    return Math.abs(this.#newest.of('outputV'));
  }
  get energised(): boolean {
    return this.#on || this.#offWanted || this.#newest.of('outputOn') > 0;
  }
  get isSafe(): boolean {
    return !this.#on && !this.#offWanted;
  }

  obey(order: Order, done: Done): void {
    switch (order.name) {
      case 'enable-converter':
        this.#enable(order.args.matchA, done);
        return;
      case 'disable-converter':
        this.#off(done);
        return;
      case 'authority':
        done(this.#grant(order.args));
        return;
      case 'setpoint':
        this.#set(order.args, done);
        return;
      default:
        done('unknown-order');
    }
  }

  makeSafe(): void {
    this.#off(() => {});
  }

  tick(nowMs: number): void {
    if (!(nowMs >= this.#expiresMs)) return;
    const wasA = this.#targetA;
    this.#withdraw();
    if (wasA > 0) this.options.expired(wasA);
  }

  // ---- orders ---------------------------------------------------------------------------------------

  #enable(matchA: number, done: Done): void {
    const { limits, talk } = this.options;
    if (!(matchA <= limits.maxCurrentA)) {
      done('not-permitted');
      return;
    }
    this.#matchA = matchA;
    this.#targetA = 0;
    if (this.#on) {
      done('done');
      return;
    }
    this.#on = true;
    this.#targetV = 0;
    this.#referenceA = 0;
    this.#failedSets = 0;
    const epoch = ++this.#epoch;
    const fails = (what: Trouble): void => {
      this.options.trouble(what);
      if (this.#epoch === epoch) this.#off(() => {});
      done(refusedBy(what));
    };
    // Nothing may flow by a set-point that stands in the instrument from before.
    talk.set(0, 0, (what) => {
      if (what !== null) {
        fails(what);
        return;
      }
      this.#toldA = 0;
      this.#toldV = 0;
      if (this.#epoch !== epoch) {
        done('not-permitted');
        return;
      }
      talk.output(true, (trouble) => {
        if (trouble !== null) fails(trouble);
        else done(this.#epoch === epoch ? 'done' : 'not-permitted');
      });
    });
  }

  #grant(args: { ceilingA: number; slopeAPerS: number; lifeMs: number }): Answer {
    if (args.ceilingA === 0) {
      this.#withdraw();
      return 'done';
    }
    if (!(args.ceilingA <= this.options.limits.maxCurrentA)) return 'not-permitted';
    if (!(args.slopeAPerS > 0 && args.lifeMs >= 1 && args.lifeMs <= MAX_AUTHORITY_MS)) return 'bad-argument';
    this.#ceilingA = args.ceilingA;
    this.#slopeAPerS = args.slopeAPerS;
    this.#expiresMs = this.options.clock.nowMs() + args.lifeMs;
    this.#targetA = Math.min(this.#targetA, this.#allowedA);
    return 'done';
  }

  #set(args: { currentA: number; voltageV: number }, done: Done): void {
    const { limits } = this.options;
    if (!this.#on) done(args.currentA === 0 ? 'done' : 'not-permitted');
    else if (!(args.currentA <= limits.maxCurrentA && args.voltageV <= limits.maxVoltageV))
      done('not-permitted');
    else if (!(args.currentA <= this.#allowedA)) done('no-authority');
    else {
      this.#targetA = args.currentA;
      this.#targetV = args.voltageV;
      // Told in the next round, together with whatever else was ordered by then: the newest counts.
      this.#setDone.push(done);
    }
  }

  get #allowedA(): number {
    return Math.max(this.#ceilingA, this.#matchA);
  }

  #withdraw(): void {
    this.#ceilingA = 0;
    this.#expiresMs = Number.POSITIVE_INFINITY;
    this.#targetA = 0;
  }

  #off(done: Done): void {
    this.#on = false;
    this.#epoch++;
    this.#withdraw();
    this.#matchA = 0;
    this.#offWanted = true;
    this.#offTimes = 1;
    this.#offDone.push(done);
    this.options.talk.offAtOnce();
    this.#answer(this.#setDone.splice(0), null);
    this.round();
  }

  // ---- rounds ---------------------------------------------------------------------------------------

  round(): void {
    if (this.#busy) return;
    this.#busy = true;
    const epoch = this.#epoch;
    if (this.#offWanted) {
      this.options.talk.output(false, (trouble) => {
        if (trouble !== null) {
          this.options.trouble(trouble);
          // Nobody answers, which does not mean that nobody hears; every round would keep the line from getting quiet.
          if (++this.#offUnheard % UNHEARD_ROUNDS === 0) this.options.talk.offAtOnce();
        }
        this.#read(epoch, trouble === null);
      });
      return;
    }
    if (this.#on) this.#slope();
    if (this.#on && this.#mustTell) this.#tell(() => this.#read(epoch, false));
    else this.#read(epoch, false);
  }

  get #orderedA(): number {
    return roundedDown(this.#referenceA, this.options.steps.currentA);
  }
  get #mustTell(): boolean {
    return this.#setDone.length > 0 || this.#orderedA !== this.#toldA || this.#targetV !== this.#toldV;
  }

  /** One step of the set-point: up by the slope of the authority, down by that of the rig. */
  #slope(): void {
    const { rig, pollMs } = this.options;
    const targetA = Math.min(this.#targetA, this.#allowedA);
    const upAPerS = this.#ceilingA > 0 ? this.#slopeAPerS : rig.ramp.upAPerS;
    const seconds = pollMs / 1000;
    const fromA = this.#referenceA;
    this.#referenceA =
      targetA > fromA
        ? Math.min(targetA, fromA + upAPerS * seconds)
        : Math.max(targetA, fromA - rig.ramp.downAPerS * seconds);
  }

  #tell(then: () => void): void {
    const currentA = this.#orderedA;
    const voltageV = this.#targetV;
    const waiting = this.#setDone.splice(0);
    this.options.talk.set(currentA, voltageV, (trouble) => {
      if (trouble === null) {
        this.#failedSets = 0;
        this.#toldA = currentA;
        this.#toldV = voltageV;
      } else {
        this.options.trouble(trouble);
        // What was not taken is not stood on: the slope goes on from what stands.
        this.#referenceA = Number.isNaN(this.#toldA) ? 0 : this.#toldA;
        if (this.#on && refusedBy(trouble) !== null && ++this.#failedSets >= MAX_FAILED_SETS)
          this.options.disobeys();
      }
      const answer = trouble === null ? 'done' : refusedBy(trouble);
      // Not confirmed and not refused: told again in the next round.
      if (answer === null && this.#on) this.#setDone = [...waiting, ...this.#setDone].slice(-MAX_WAITING);
      else this.#answer(waiting, answer);
      then();
    });
  }

  #read(epoch: number, offTold: boolean): void {
    this.options.talk.read((readings, trouble) => {
      this.#busy = false;
      if (trouble !== null) this.options.trouble(trouble);
      if (readings !== null) this.#newest.take(readings, this.options.clock.nowMs());
      // Overtaken by an order to switch off: what was read is older than that.
      if (this.#epoch !== epoch) {
        if (this.#offWanted) this.round();
      } else if (offTold) this.#lookOff(readings !== null);
    });
  }

  #lookOff(isRead: boolean): void {
    if (isRead && this.#newest.of('outputOn') === 0) {
      this.#offWanted = false;
      this.#toldA = Number.NaN;
      this.#answer(this.#offDone.splice(0), 'done');
      return;
    }
    if (!isRead) return;
    const value = this.#offTimes++;
    this.options.trouble({
      kind: 'not-off',
      value,
      text: `output ordered off ${value} times, still reads on`,
    });
  }

  #answer(all: readonly Done[], answer: Answer | null): void {
    for (const done of all) done(answer);
  }

  report(): { converter: ReadingOf<'converter'> } {
    const of = (name: string) => this.#newest.of(name);
    const isOff = of('outputOn') === 0;
    const setpointA = this.#newest.has('setpointA') ? of('setpointA') : this.#toldA;
    return {
      converter: {
        sample: this.#newest.sample,
        state: this.#state(),
        outputV: of('outputV'),
        outputA: of('outputA'),
        // A set-point that stands in an instrument that is off is in force nowhere.
        appliedSetpointA: isOff ? 0 : setpointA,
        appliedLimitV: this.#newest.has('limitV') ? of('limitV') : this.#toldV,
        temperatureC: of('temperatureC'),
      },
    };
  }

  #state(): number {
    const of = (name: string) => this.#newest.of(name);
    const faulty = this.#newest.has('fault') && !(of('fault') === 0);
    if (faulty) return CONVERTER_STATE.fault;
    const outputOn = of('outputOn');
    if (Number.isNaN(outputOn)) return Number.NaN;
    if (of('outputA') > DELIVERS_A) return CONVERTER_STATE.delivering;
    if (outputOn === 0) return CONVERTER_STATE.off;
    return this.#targetA > 0 ? CONVERTER_STATE.delivering : CONVERTER_STATE.ready;
  }
}

/** An instrument that says nothing has neither obeyed nor refused. */
const refusedBy = ({ kind }: Trouble): Answer | null =>
  kind === 'scpi-error' || kind === 'modbus-exception' ? 'not-permitted' : null;
