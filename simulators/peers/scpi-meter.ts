/** A simulated meter of nine channels that speaks SCPI: the meter of the world, read by a list of channels. */
import type { ReadingOf } from '../../src/rig/roles.js';
import type { PeerKind, PeerPlace } from './peer.js';
import { nr3, ScpiPeer } from './scpi-peer.js';

const CHANNELS: readonly (keyof ReadingOf<'meter'>)[] = [
  'currentA',
  'outputV',
  'plugV',
  'outputPositiveV',
  'outputNegativeV',
  'plugPositiveV',
  'plugNegativeV',
  'cableC',
  'contactC',
];
const FIRST_CHANNEL = 101;
/** SCPI-1999 7.2.1.4 and 7.2.1.5: an input out of range, and a channel that measures nothing. */
const OVERLOAD = '+9.900000E+37';
const NOT_A_NUMBER = '+9.910000E+37';

/** Extremes of the first three, since they were read last. */
const LEAST = ['currentMinA', 'outputMinV', 'plugMinV'] as const;
const GREATEST = ['currentMaxA', 'outputMaxV', 'plugMaxV'] as const;

class ScpiMeter extends ScpiPeer {
  #taken: ReadingOf<'meter'>;

  constructor(place: PeerPlace) {
    super(place, 'LOOPWARDEN BENCH,DC-METER-9,M-0001,2.0', {
      'FETCh?': (args) => {
        this.#taken = this.place.plant.read('meter');
        return this.#list(args, CHANNELS);
      },
      // Of the span that the last reading ended.
      'FETCh:MINimum?': (args) => this.#list(args, LEAST),
      'FETCh:MAXimum?': (args) => this.#list(args, GREATEST),
    });
    this.#taken = place.plant.read('meter');
  }

  #list(args: string, channels: readonly (keyof ReadingOf<'meter'>)[]): string | number {
    const range = /^\(@(\d+):(\d+)\)$/.exec(args);
    if (range === null) return args === '' ? -109 : -104;
    const [first, last] = [Number(range[1]) - FIRST_CHANNEL, Number(range[2]) - FIRST_CHANNEL];
    if (!(first >= 0 && first <= last && last < channels.length)) return -222;
    return channels
      .slice(first, last + 1)
      .map((name) => {
        if (name === 'plugV' && this.goesWrong('overload')) return OVERLOAD;
        const value = this.#taken[name];
        return Number.isNaN(value) ? NOT_A_NUMBER : nr3(value);
      })
      .join(',');
  }
}

export const scpiMeter: PeerKind = { bytes: false, make: (place) => new ScpiMeter(place) };
