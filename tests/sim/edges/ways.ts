/**
 * Sessions that reach every state of the machine with every set of its flags: the ways. A way is run once as it is;
 * the windows in which it stands in each state tell the handlers when to bring an event about.
 */
import type { SessionFlags } from '../../../machines/vocabulary.js';
import type { Injection } from '../../../simulators/faults.js';
import type { EventType } from '../../../src/audit/explore/subject.js';
import type { StormCase } from '../../../src/storm/case.js';

export type Path = SessionFlags['path'];
export const PATHS: readonly Path[] = ['match', 'pre-charge'];
export const BASE: Readonly<Record<Path, string>> = { match: 'depot-cable', 'pre-charge': 'yard-precharge' };

export interface Way {
  readonly name: string;
  readonly drawn: StormCase;
  /** Made for these events: not tried for any other. */
  readonly only?: readonly EventType[];
}

export const START = { soc: 0.6, cellC: 22, ambientC: 20 } as const;
/** The last raft stands so much higher that it never joins; or joins once the charge has lifted the others. */
export const LEFT_OUT = { ...START, rafts: [{}, {}, {}, { soc: 0.7 }] };
const JOINS_LATER = { ...START, rafts: [{}, {}, {}, { soc: 0.66 }] };
/** Near enough to the top that a cell a little higher than the rest makes its raft taper. */
const NEAR_TOP = { ...START, soc: 0.85 } as const;
const NEAR_TOP_APART = { ...NEAR_TOP, rafts: [{}, {}, {}, { soc: 0.89 }] };
/** A raft may join only when it hardly moves any current: it is left out, or joins late. */
const JOINS_AT = (joinCurrentA: number) => ({ 'battery.raft.joinCurrentA': joinCurrentA });

/** Little current, so that the limit is soon reached. */
export const QUICK = { maxCurrentA: 45, maxS: 16 } as const;

/** A conductor sensor that cannot be read: a trip-1 with the third report, in any phase under way. */
export const BLIND = { fault: 'sensor-reads-nothing', part: 'meter:cableC' } as const;
/** The auxiliaries are unreadable for longer than making safe may take (15 s), and come back then. */
const AUXILIARIES_GONE_S = 15.6;

/** The strongest cells rise at once. */
const rises = (phase: Injection['phase'], afterS: number): Injection[] =>
  [1, 2, 3].map((n) => ({ fault: 'cell-too-high', phase, afterS, magnitude: 0.05, part: `raft${n}` }));
/** The strongest cell creeps up: the limit falls too steadily for the set-point to stand at it. */
const creeps = (fromV: number, byV: number): Injection[] =>
  Array.from({ length: 8 }, (_, k) => ({
    ...{ fault: 'cell-too-high', phase: 'ramping', part: 'raft1' },
    afterS: 3.9 + 0.14 * k,
    magnitude: fromV + byV * k,
  }));
const CREEPS = creeps(0.05, 0.0015);
const stop = (phase: 'securing' | 'joining-train', afterS: number): StormCase['orders'] => [
  { order: 'stop', phase, afterS },
];

export type MakeWay = (name: string, more: Partial<StormCase>, only?: readonly EventType[]) => Way;
export const wayOn =
  (path: Path): MakeWay =>
  (name, more, only) => ({
    name: `${path}: ${name}`,
    drawn: {
      ...{ base: BASE[path], set: {}, first: 'start', seed: 7, start: START, wish: QUICK },
      ...{ inject: [], orders: [], ...more },
    },
    ...(only === undefined ? {} : { only }),
  });

/** Trips while no pole is closed yet, so that what is said of the poles after the end can still prove them open. */
function provenLate(way: MakeWay, rafts: SessionFlags['rafts'], trip: 'trip-0' | 'trip-1'): Way {
  const phase = rafts === 'none' ? 'checking-isolation' : 'joining-train';
  const afterS = { none: 0.1, some: 2.4, all: 1.9 }[rafts];
  // Gone just before the trip, and after the last report but one.
  const gone = { fault: 'sensor-reads-nothing', part: 'contactor:closedP', phase } as const;
  const goneS = afterS + (trip === 'trip-1' ? 0.13 : 0.03);
  return way(`${trip} with ${rafts} of the rafts, proven only after the end`, {
    start: rafts === 'some' ? LEFT_OUT : START,
    inject: [
      { ...gone, afterS: goneS, durationS: AUXILIARIES_GONE_S },
      ...(trip === 'trip-1' ? [{ ...BLIND, phase, afterS } as const] : []),
    ],
    orders: trip === 'trip-0' ? [{ order: 'trip-now', phase, afterS: goneS + 0.01 }] : [],
  });
}

function charges(way: MakeWay): Way[] {
  const slowDisk: Injection[] = [{ fault: 'journal-slow', phase: 'start', afterS: 4, magnitude: 60 }];
  const longer = { ...QUICK, maxS: 20 } as const;
  return [
    way('a charge', {}),
    way('a raft left out', { start: LEFT_OUT }),
    way('a raft that joins later', { start: JOINS_LATER, wish: { maxCurrentA: 120, maxS: 22 } }),
    way('tapers before its limit', { start: NEAR_TOP, inject: CREEPS, wish: { maxS: 14 } }),
    way('tapers after its limit', { start: NEAR_TOP, inject: rises('holding', 0.5), wish: longer }),
    way('a raft left out, tapers before its limit', {
      ...{ start: NEAR_TOP_APART, set: JOINS_AT(2), inject: CREEPS, wish: { maxS: 14 } },
    }),
    way('a raft left out, tapers after its limit', {
      ...{ start: NEAR_TOP_APART, set: JOINS_AT(2), inject: rises('holding', 0.2), wish: longer },
    }),
    way('a raft that joins while tapering', {
      ...{ start: NEAR_TOP_APART, set: JOINS_AT(8), inject: creeps(0.04, 0.0012), wish: { maxS: 20 } },
    }),
    way('a slow disk', { inject: slowDisk }),
    way('a raft left out, a slow disk', { start: LEFT_OUT, inject: slowDisk }),
  ];
}

function endsEarly(way: MakeWay): Way[] {
  const trips = { inject: [{ ...BLIND, phase: 'holding', afterS: 0.2 } as const] };
  return [
    way('stopped while securing', { orders: stop('securing', 0.1) }),
    way('stopped while joining', { orders: stop('joining-train', 0.3) }),
    way('stopped with all joined', { orders: stop('joining-train', 2) }),
    way('stopped with some joined', { start: LEFT_OUT, orders: stop('joining-train', 2.37) }),
    way('trip-1 under current', trips),
    way('trip-1 under current, a raft left out', { ...trips, start: LEFT_OUT }),
    ...(['none', 'some', 'all'] as const).flatMap((rafts) =>
      (['trip-0', 'trip-1'] as const).map((trip) => provenLate(way, rafts, trip)),
    ),
    way('asked to start while latched', { start: { ...START, latched: true } }),
  ];
}

export const waysOf = (path: Path): Way[] => [...charges(wayOn(path)), ...endsEarly(wayOn(path))];
