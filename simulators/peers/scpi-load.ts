/** A simulated bidirectional source that speaks SCPI, standing where the train would: holds its terminals at a voltage. */
import type { PeerKind, PeerPlace } from './peer.js';
import { nr3, numeric, ScpiPeer } from './scpi-peer.js';

const MOST_V = 900;
const MOST_A = 350;
const MOST_WATCHDOG_S = 60;

class ScpiLoad extends ScpiPeer {
  #on = false;
  #voltageV = 0;
  #limitA = 0;
  /** 0: off. */
  #watchdogS = 0;

  constructor(place: PeerPlace) {
    super(place, 'LOOPWARDEN BENCH,DC-BIDIR-900-350,L-0001,1.1', {
      'SOURce:VOLTage': (args) => this.#set(args, MOST_V, (v) => (this.#voltageV = v)),
      'SOURce:VOLTage?': () => nr3(this.#voltageV),
      'SOURce:CURRent:LIMit': (args) => this.#set(args, MOST_A, (a) => (this.#limitA = a)),
      'SOURce:CURRent:LIMit?': () => nr3(this.#limitA),
      'OUTPut:STATe': (args) => {
        if (!/^(ON|OFF|1|0)$/i.test(args)) return args === '' ? -109 : -104;
        const on = /^(ON|1)$/i.test(args);
        if (on || !this.goesWrong('wont-switch-off')) this.#switch(on);
        return undefined;
      },
      'OUTPut:STATe?': () => (this.#on ? '1' : '0'),
      'MEASure:VOLTage?': () => nr3(this.place.plant.read('train').trainV),
      'MEASure:CURRent?': () => nr3(this.#on ? this.place.plant.read('raft', 1).packA : 0),
      'SYSTem:COMMunicate:WATChdog': (args) => this.#set(args, MOST_WATCHDOG_S, (s) => (this.#watchdogS = s)),
      'SYSTem:COMMunicate:WATChdog?': () => nr3(this.#watchdogS),
    });
  }

  override tick(nowMs: number): void {
    super.tick(nowMs);
    if (!this.#on) return;
    const isLeft = this.#watchdogS > 0 && nowMs - this.lastMessageMs > 1000 * this.#watchdogS;
    const isOver = Math.abs(this.place.plant.read('raft', 1).packA) > this.#limitA;
    if (isLeft || isOver) {
      this.error(isLeft ? -365 : -221);
      this.#switch(false);
    }
  }

  #set(args: string, most: number, take: (value: number) => void): number | undefined {
    const value = numeric(args);
    if (value === null) return args === '' ? -109 : -104;
    if (!(value >= 0 && value <= most)) return -222;
    take(value);
    if (this.#on) this.place.plant.holdTrain?.(this.#voltageV);
    return undefined;
  }

  #switch(on: boolean): void {
    this.#on = on;
    this.place.plant.holdTrain?.(on ? this.#voltageV : null);
  }
}

export const scpiLoad: PeerKind = { bytes: false, make: (place) => new ScpiLoad(place) };
