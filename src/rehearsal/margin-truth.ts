/**
 * What the figure of each margin would have been with perfect instruments: worked out from the truth of the bench at
 * the instants at which the readings behind it were taken, by what its code means, not by the check that states it.
 */

import type { Margin } from '../audit/margins.js';
import { loopFigures } from '../checks/loop-figures.js';
import type { Taken, TruthBook } from './truth-book.js';

/** A figure as it was, as the journaled readings give it, and how far below and above the truth these may lie. */
export interface Figure {
  readonly value: number;
  /** null: a method stands between readings and figure, so only the truth can be held against it. */
  readonly read: number | null;
  readonly below: number;
  readonly above: number;
}

/** Several where a check may rest on either of two. Empty: what it needs was not read. */
type Truth = (margin: Margin, book: TruthBook) => readonly Figure[];

/** One reading, or what is worked out from several by steps that keep or add up what they may be off. */
interface Off {
  readonly value: number;
  readonly read: number;
  readonly off: number;
}
/** A role with one of its fields. */
type Field = readonly [role: string, field: string];

const figure = ({ value, read, off }: Off): readonly Figure[] => [{ value, read, below: off, above: off }];
/** By a method that errs by so much of the figure. */
const estimated = (value: number, below: number, above: number): readonly Figure[] => [
  { value, read: null, below: below * Math.abs(value), above: above * Math.abs(value) },
];

function offOf(taken: Taken | null, [role, field]: Field, book: TruthBook): Off {
  const value = taken?.truth[field] ?? Number.NaN;
  const read = taken?.read[field] ?? Number.NaN;
  return { value, read, off: book.mayDiffer(role, field, value) };
}
const seen = (book: TruthBook, { atMs }: Margin, of: Field): Off => offOf(book.at(of[0], atMs), of, book);
const trueOf = (book: TruthBook, { atMs }: Margin, [role, field]: Field): number =>
  book.at(role, atMs)?.truth[field] ?? Number.NaN;

/** As a reading, but not more than once of what both may be off. */
const mapped = (of: (...values: number[]) => number, list: readonly Off[]): Off => ({
  value: of(...list.map(({ value }) => value)),
  read: of(...list.map(({ read }) => read)),
  off: Math.max(...list.map(({ off }) => off)),
});
const combined = (of: (...values: number[]) => number, list: readonly Off[]): Off => ({
  ...mapped(of, list),
  off: list.reduce((sum, { off }) => sum + off, 0),
});
const apart = (a: Off, b: Off): Off => combined((x, y) => Math.abs((x as number) - (y as number)), [a, b]);
const size = (a: Off): Off => mapped((x) => Math.abs(x as number), [a]);

const reading =
  (...of: Field): Truth =>
  (margin, book) =>
    figure(seen(book, margin, of));
const raftOf = (book: TruthBook, { part }: Margin): string =>
  `raft${book.rig.battery.rafts.findIndex(({ name }, i) => (name ?? `raft-${i + 1}`) === part) + 1}`;
const ofRaft =
  (field: string): Truth =>
  (margin, book) =>
    figure(seen(book, margin, [raftOf(book, margin), field]));
const between =
  (a: Field, b: Field): Truth =>
  (margin, book) =>
    figure(apart(seen(book, margin, a), seen(book, margin, b)));
const ofMeter = (fields: readonly string[], book: TruthBook, margin: Margin): Off[] =>
  fields.map((field) => seen(book, margin, ['meter', field]));

const SIDES_V = ['outputV', 'plugV', 'outputPositiveV', 'outputNegativeV', 'plugPositiveV', 'plugNegativeV'];
const PEAKS_V = ['outputV', 'outputMaxV', 'plugV', 'plugMaxV'];
const METER_A: Field = ['meter', 'currentA'];
const OUTPUT_V: Field = ['meter', 'outputV'];
const PLUG_V: Field = ['meter', 'plugV'];
const TRAIN_V: Field = ['train', 'trainV'];
const CONVERTER_A: Field = ['converter', 'outputA'];

/** The meter's peak where both instruments vouch for it, else the lower of both. */
const vouched: Truth = (margin, book) => [
  ...figure(seen(book, margin, ['meter', 'currentMaxA'])),
  ...figure(mapped(Math.min, [seen(book, margin, METER_A), seen(book, margin, CONVERTER_A)])),
];

const supply: Truth = (margin, book) =>
  figure(seen(book, margin, ['supply', margin.unit === 'Hz' ? 'frequencyHz' : 'voltageV']));

/** Distance of a slow reading from everything a fast instrument showed, under current, while it may have been taken. */
function outside(slow: Off, fast: Field, { atMs }: Margin, book: TruthBook): readonly Figure[] {
  const fromMs = Math.max(atMs - book.rig.link.slowReadingMs, book.rampingSinceMs);
  const shown = book.between(fast[0], fromMs, atMs).map((taken) => offOf(taken, fast, book));
  const least = mapped(Math.min, shown);
  const most = mapped(Math.max, shown);
  return figure(
    combined(
      (x, low, high) => Math.max(0, (low as number) - (x as number), (x as number) - (high as number)),
      [slow, least, { ...most, off: 0 }],
    ),
  );
}

const joinedRafts = (book: TruthBook, { atMs }: Margin): string[] =>
  book.rig.battery.rafts
    .map((_, i) => `raft${i + 1}`)
    .filter((raft) => book.at(raft, atMs)?.read.joined === 1);

const rafts: Truth = (margin, book) => {
  const each = joinedRafts(book, margin).map((raft) => seen(book, margin, [raft, 'packA']));
  const sum = combined((...amps) => amps.reduce((a, b) => a + b, 0), each);
  return outside(sum, METER_A, margin, book);
};

const volts: Truth = (margin, book) => {
  if (margin.part === 'meter and converter') return between(OUTPUT_V, ['converter', 'outputV'])(margin, book);
  if (margin.part === 'output and plug') return between(OUTPUT_V, PLUG_V)(margin, book);
  return outside(seen(book, margin, TRAIN_V), PLUG_V, margin, book);
};

/** Into the newest sample from one of the last quarter of a second: whichever the check took. */
const STEEP_MS = 250;
const slope: Truth = (margin, book) => {
  const lower = (taken: Taken): Off =>
    mapped(Math.min, [offOf(taken, METER_A, book), seen(book, { ...margin, atMs: taken.tMs }, CONVERTER_A)]);
  const samples = book.between('meter', margin.atMs - STEEP_MS, margin.atMs);
  const last = samples.at(-1);
  if (last === undefined) return [];
  return samples.slice(0, -1).flatMap((from) => {
    const seconds = (last.tMs - from.tMs) / 1000;
    const rise = combined((a, b) => (b as number) - (a as number), [lower(from), lower(last)]);
    return figure({ value: rise.value / seconds, read: rise.read / seconds, off: rise.off / seconds });
  });
};

/** Across the joint of a raft and those on the bus: its volts as read, resistances as they are. */
const joining: Truth = (margin, book) => {
  const raft = raftOf(book, margin);
  const ohmOf = (name: string): number => trueOf(book, margin, [name, 'seriesOhm']);
  const busS = joinedRafts(book, margin).reduce((sum, name) => sum + 1 / ohmOf(name), 0);
  const ohm = ohmOf(raft) + 1 / busS;
  const { value, off } = apart(seen(book, margin, [raft, 'packV']), seen(book, margin, TRAIN_V));
  // An empty bus has no current to offer.
  if (busS === 0) return [{ value: 0, read: null, below: 0, above: 0 }];
  const aside = off / ohm + JOINING_SHARE * (value / ohm);
  return [{ value: value / ohm, read: null, below: aside, above: aside }];
};
/** The check knows the resistance of a cell by its temperature alone. */
const JOINING_SHARE = 0.1;

/**
 * What the pilot's algebra makes of the undisturbed current, and of it with mean and r.m.s. off by what the monitor
 * may be off: it takes the diode's drop as constant, so its figures are not the resistances of the bench. How near
 * they come is held against published examples and a circuit simulator (tests/reference).
 */
const pilot =
  (pick: 'seriesOhm' | 'shuntOhm' | 'asymmetry'): Truth =>
  (margin, book) => {
    const truth = book.at('loop', margin.atMs)?.truth;
    if (truth === undefined || book.rig.pilot === undefined) return [];
    const { meanA = Number.NaN, rmsA = Number.NaN } = truth;
    const { peakPositiveA = Number.NaN, peakNegativeA = Number.NaN } = truth;
    const by = (sign: number, field: string, value: number): number =>
      value + sign * book.mayDiffer('loop', field, value);
    const pilotOf = book.rig.pilot;
    const at = (m: number, r: number): number =>
      loopFigures(
        {
          meanA: by(m, 'meanA', meanA),
          rmsA: Math.max(0, by(r, 'rmsA', rmsA)),
          peakPositiveA,
          peakNegativeA,
        },
        pilotOf,
      )[pick];
    const value = at(0, 0);
    const all = [value, at(-1, -1), at(-1, 1), at(1, -1), at(1, 1)].filter((x) => !Number.isNaN(x));
    const [least, most] = [Math.min(...all), Math.max(...all)];
    return [{ value, read: null, below: value - least, above: most - value }];
  };

/** Pole volts read to 1 %, which the check takes off, and as much again for noise and the rest of the settling. */
const DEAD_BELOW = 0.05;
const DEAD_ABOVE = 0.02;
/** Each ratio is taken 0.4 % and half a step of 12 bits the unfavourable way. */
const LIVE_BELOW = 0.1;
const LIVE_ABOVE = 0.01;
const isolation: Truth = (margin, book) => {
  const { part } = margin;
  const at = (field: string): number => trueOf(book, margin, ['isolation', field]);
  if (part === 'charger' || part === 'cable') return estimated(at(`${part}Ohm`), DEAD_BELOW, DEAD_ABOVE);
  const field = book.rig.isolation.figure === 'parallel' ? 'joinedParallelOhm' : 'joinedLowerOhm';
  return estimated(at(field), LIVE_BELOW, LIVE_ABOVE);
};

/** The swing is timed by samples some 50 ms apart: one that is over between two of them gives an upper bound. */
const STORED_BELOW = 0.1;
const STORED_ABOVE = 4;
const stored: Truth = (margin, book) =>
  estimated(trueOf(book, margin, ['isolation', 'storedJ']), STORED_BELOW, STORED_ABOVE);

/**
 * An average over about a second lies between the least and the greatest of a few. Of its first sample the two
 * voltmeters and the difference learned between them may still be off in full.
 */
const AVERAGED_MS = 4000;
const drop: Truth = (margin, book) => {
  const drops = book
    .between('meter', margin.atMs - AVERAGED_MS, margin.atMs)
    .map(({ truth }) => truth.contactDropV ?? Number.NaN);
  const value = trueOf(book, margin, ['meter', 'contactDropV']);
  const voltmetersV = seen(book, margin, PLUG_V).off + seen(book, margin, TRAIN_V).off;
  const ampsV = seen(book, margin, METER_A).off === Number.POSITIVE_INFINITY ? Number.POSITIVE_INFINITY : 0;
  // Two contacts share what the voltmeters are off.
  const off = voltmetersV / 2 + ampsV;
  return [
    { value, read: null, below: value - Math.min(...drops) + off, above: Math.max(...drops) - value + off },
  ];
};

/** One that is over between two samples is timed by what was left of it: by less than a fifth of their distance. */
const precharge: Truth = (margin, book) => {
  const value = trueOf(book, margin, ['meter', 'prechargeS']);
  const aside = PRECHARGE_SHARE * value;
  return [{ value, read: null, below: aside, above: aside + book.rig.link.periodMs / 5000 }];
};
const PRECHARGE_SHARE = 0.1;

export const FIGURES: Readonly<Record<string, Truth>> = {
  'bond-lost': reading('berth', 'bondOhm'),
  'cable-derated': reading('meter', 'cableC'),
  'cable-hot': reading('meter', 'cableC'),
  'contact-derated': reading('meter', 'contactC'),
  'contact-hot': reading('meter', 'contactC'),
  'cell-too-high': ofRaft('cellMaxV'),
  'cell-too-low': ofRaft('cellMinV'),
  'cell-too-hot': ofRaft('cellMaxC'),
  'cell-too-cold': ofRaft('cellMinC'),
  'cell-spread': (margin, book) => {
    const raft = raftOf(book, margin);
    const { value, read } = apart(
      seen(book, margin, [raft, 'cellMaxV']),
      seen(book, margin, [raft, 'cellMinV']),
    );
    // One converter reads all cells of a raft, so their noise is the same; half a count of each is left.
    return figure({ value, read, off: 0.001 + 1e-9 });
  },
  'raft-isolation-low': ofRaft('isolationOhm'),
  'raft-left-out': joining,
  'supply-derated': supply,
  'supply-sagging': supply,
  'live-at-rest': (margin, book) => figure(mapped(Math.max, ofMeter(SIDES_V, book, margin).map(size))),
  'over-voltage': (margin, book) => figure(mapped(Math.max, ofMeter(PEAKS_V, book, margin))),
  'load-dump': reading('meter', 'outputMaxV'),
  'over-current': vouched,
  'overshoot-noted': vouched,
  'current-too-steep': slope,
  'reverse-current': reading(...METER_A),
  'converter-wont-stop': reading(...METER_A),
  'current-not-tracking': between(CONVERTER_A, ['converter', 'appliedSetpointA']),
  'meter-disagrees': between(METER_A, CONVERTER_A),
  'rafts-disagree': rafts,
  'volts-disagree': volts,
  'match-failed': between(OUTPUT_V, TRAIN_V),
  'polarity-reversed': (margin, book) =>
    figure(mapped(Math.min, [seen(book, margin, PLUG_V), seen(book, margin, TRAIN_V)])),
  'pole-volts-differ': between(OUTPUT_V, PLUG_V),
  'pole-welded': (margin, book) => {
    const pole = margin.part === 'P' ? 'PositiveV' : 'NegativeV';
    return between(['meter', `output${pole}`], ['meter', `plug${pole}`])(margin, book);
  },
  'precharge-failed': between(OUTPUT_V, PLUG_V),
  'precharge-resistor-shorted': precharge,
  'train-contactor-welded': (margin, book) => figure(size(seen(book, margin, PLUG_V))),
  'contact-drop': drop,
  'loop-open': reading('loop', 'rmsA'),
  'loop-high-resistance': pilot('seriesOhm'),
  'loop-leaky': pilot('shuntOhm'),
  'loop-crushed': pilot('asymmetry'),
  'loop-reversed': pilot('asymmetry'),
  'loop-unclear': pilot('asymmetry'),
  'isolation-low': isolation,
  'stored-charge': stored,
};
