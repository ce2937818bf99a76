/** A simulated DC source that speaks SCPI: drives the converter of the world. It knows no authority and no slope. */
import { CONVERTER_STATE } from '../../src/rig/roles.js';
import { BenchOutput } from './bench-output.js';
import type { PeerKind, PeerPlace } from './peer.js';
import { nr3, numeric, ScpiPeer } from './scpi-peer.js';

const OVERLOAD = '+9.900000E+37';
/** Questionable status: voltage. */
const FAULT_BIT = 1;

class ScpiSource extends ScpiPeer {
  readonly #output: BenchOutput;
  #protectionA = 320;
  #protectionV = 850;
  /** 0: off. */
  #watchdogS = 0;

  constructor(place: PeerPlace) {
    super(place, 'LOOPWARDEN BENCH,DC-SOURCE-850-320,B-0001,1.4', {
      'SOURce:CURRent': (args) => this.#set(args, (a) => this.#setCurrent(a)),
      'SOURce:CURRent?': () => nr3(this.#output.currentA),
      'SOURce:VOLTage': (args) => this.#set(args, (v) => this.#setVoltage(v)),
      'SOURce:VOLTage?': () => nr3(this.#output.voltageV),
      'SOURce:VOLTage:PROTection': (args) => this.#protect(args, 900, (v) => (this.#protectionV = v)),
      'SOURce:VOLTage:PROTection?': () => nr3(this.#protectionV),
      'SOURce:CURRent:PROTection': (args) => this.#protect(args, 350, (a) => (this.#protectionA = a)),
      'SOURce:CURRent:PROTection?': () => nr3(this.#protectionA),
      'OUTPut:STATe': (args) => this.#switch(args),
      'OUTPut:STATe?': () => (this.#output.on ? '1' : '0'),
      'MEASure:VOLTage?': () => this.#measured((c) => c.outputV),
      'MEASure:CURRent?': () => this.#measured((c) => c.outputA),
      'STATus:QUEStionable:CONDition?': () =>
        String(this.place.plant.read('converter').state === CONVERTER_STATE.fault ? FAULT_BIT : 0),
      'SYSTem:COMMunicate:WATChdog': (args) => this.#protect(args, 60, (s) => (this.#watchdogS = s)),
      'SYSTem:COMMunicate:WATChdog?': () => nr3(this.#watchdogS),
    });
    this.#output = new BenchOutput(place);
  }

  override get nextTickMs(): number {
    const deadlineMs =
      this.#output.on && this.#watchdogS > 0
        ? this.lastMessageMs + 1000 * this.#watchdogS + 1
        : Number.POSITIVE_INFINITY;
    return Math.min(super.nextTickMs, deadlineMs);
  }

  override tick(nowMs: number): void {
    super.tick(nowMs);
    if (this.#output.on && this.#watchdogS > 0 && nowMs - this.lastMessageMs > 1000 * this.#watchdogS) {
      this.error(-365);
      this.#output.switch(false);
    }
  }

  #measured(of: (c: { outputV: number; outputA: number }) => number): string {
    return this.goesWrong('overload') ? OVERLOAD : nr3(of(this.place.plant.read('converter')));
  }

  #set(args: string, take: (value: number) => boolean): number | undefined {
    const value = numeric(args);
    if (value === null) return args === '' ? -109 : -104;
    if (this.goesWrong('sets-nothing')) return -221;
    return take(value) ? undefined : -222;
  }

  #protect(args: string, most: number, take: (value: number) => void): number | undefined {
    const value = numeric(args);
    if (value === null) return args === '' ? -109 : -104;
    if (!(value >= 0 && value <= most)) return -222;
    take(value);
    return undefined;
  }

  #setCurrent(currentA: number): boolean {
    if (!(currentA >= 0 && currentA <= this.#protectionA)) return false;
    this.#output.setCurrent(currentA);
    return true;
  }

  #setVoltage(voltageV: number): boolean {
    if (!(voltageV >= 0 && voltageV <= this.#protectionV)) return false;
    this.#output.setVoltage(voltageV);
    return true;
  }

  #switch(args: string): number | undefined {
    if (/^(ON|1)$/i.test(args)) this.#output.switch(true);
    else if (/^(OFF|0)$/i.test(args)) {
      if (!this.goesWrong('wont-switch-off')) this.#output.switch(false);
    } else return args === '' ? -109 : -104;
    return undefined;
  }
}

export const scpiSource: PeerKind = { bytes: false, make: (place) => new ScpiSource(place) };
