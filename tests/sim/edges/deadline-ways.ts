/**
 * Ways made for deadlines that run out. The loader refuses a deadline a sound session cannot keep, and most phases
 * end in a finding of their own before theirs; so either the rig is a quick one, whose least deadlines are short, or
 * something keeps the phase waiting that no check may call a fault yet.
 */
import type { StormCase } from '../../../src/storm/case.js';
import { LEFT_OUT, type Path, QUICK, START, type Way, wayOn } from './ways.js';

const SOME_ALL = [
  ['', START],
  [', a raft left out', LEFT_OUT],
] as const;

export function deadlineWaysOf(path: Path): Way[] {
  const way = wayOn(path);
  const waits: Way[] = [
    // One field of the isolation device is unreadable from between the two measurements on.
    way(
      'the cable side cannot be measured',
      {
        set: { 'times.isolationS': 10 },
        inject: [
          {
            fault: 'sensor-reads-nothing',
            part: 'isolation:positiveV',
            phase: 'checking-isolation',
            afterS: 0.27,
          },
        ],
      },
      ['elapsed.checking-isolation'],
    ),
    way(
      'the train is slow to say that it has closed',
      {
        set: { 'isolation.checkMaxS': 1.2 },
        inject: [
          { fault: 'sensor-frozen', part: 'train', phase: 'joining-train', afterS: 0.01, durationS: 1.7 },
        ],
      },
      ['elapsed.joining-train'],
    ),
    way('bled, and a voltmeter unreadable, before anything joined', { ...bleedsOn(0.3), start: START }, [
      'elapsed.bleeding',
    ]),
    way('bled, and a voltmeter unreadable', { ...bleedsOn(2), start: START }, ['elapsed.bleeding']),
    way('bled, and a voltmeter unreadable, a raft left out', { ...bleedsOn(2.37), start: LEFT_OUT }, [
      'elapsed.bleeding',
    ]),
  ];
  const quick = SOME_ALL.flatMap(([name, start]) => [
    way(`short measurements${name}`, { set: { 'isolation.checkMaxS': 1.2 }, start }, [
      'elapsed.joining-train',
    ]),
    way(`quick contactors${name}`, { set: { 'contactors.closeMs': 20, 'contactors.openMs': 20 }, start }, [
      'elapsed.closing',
      'elapsed.opening',
    ]),
    way(
      `a quick ramp${name}`,
      {
        set: QUICK_RAMP,
        start,
        wish: { maxS: 16 },
      },
      ['elapsed.ramping'],
    ),
    way(
      `a quick ramp that waits for the disk${name}`,
      {
        set: QUICK_RAMP,
        start,
        inject: [{ fault: 'journal-slow', phase: 'closing', afterS: 0.3, magnitude: 400 }],
      },
      ['elapsed.ramping'],
    ),
    way(`a quick way down${name}`, { set: QUICK_DOWN, start }, ['elapsed.ramping-down']),
    way(
      `tripped, a quick way down, slow to call a reading old${name}`,
      {
        set: SLOW_TO_JUDGE,
        start,
        // A trip-1 that leaves the current as it is: it must be on its way down when the timer starts.
        inject: [{ fault: 'cell-spread', phase: 'holding', afterS: 0.2, magnitude: 0.2 }],
      },
      ['elapsed.tripped-ramping-down'],
    ),
    path === 'match'
      ? // The match is called failed at 95 % of its deadline: between that and the deadline no report must come.
        way(
          `a quick match${name}`,
          {
            set: {
              'converter.voltageSlopeVPerS': 900,
              'converter.matchCurrentA': 8,
              'contactors.routineBreakA': 9,
              'times.matchingS': 0.9495,
            },
            start,
          },
          ['elapsed.matching-voltage'],
        )
      : way(`quick contactors, pre-charged${name}`, { set: { 'contactors.closeMs': 20 }, start }, [
          'elapsed.pre-charging',
        ]),
  ]);
  return [...waits, ...quick];
}

/** Only figures that leave the way there as it is. */
const QUICK_DOWN = {
  'connection.ratedCurrentA': 100,
  'ramp.downAPerS': 1000,
  'ramp.emergencyDownAPerS': 1000,
} as const;
const QUICK_RAMP = {
  'connection.ratedCurrentA': 100,
  'supply.slopeKwPerS': 400,
  'ramp.upAPerS': 400,
  'ramp.downAPerS': 400,
  'ramp.emergencyDownAPerS': 400,
  'ramp.holdPointS': 0.1,
} as const;
/** Reports may be as old as the rules let them be, and current falls at once. */
const SLOW_TO_JUDGE = {
  'ramp.downAPerS': 10_000,
  'ramp.emergencyDownAPerS': 10_000,
  'link.silenceMs': 1000,
  'link.fastReadingMs': 1000,
  'tripTimes.loopMs': 5000,
  'tripTimes.overCurrentMs': 5000,
  'tripTimes.reverseCurrentMs': 5000,
  'tripTimes.overVoltageMs': 5000,
  'tripTimes.silenceMs': 5000,
  'tripTimes.stopChainMs': 5000,
  'tripTimes.cellMs': 8000,
} as const;

/** Stopped while joining: the output is bled without ever having been live, and one of its volts cannot be read. */
function bleedsOn(afterS: number): Partial<StormCase> {
  return {
    set: { 'times.bleedingS': 5 },
    wish: QUICK,
    inject: [{ fault: 'sensor-reads-nothing', part: 'meter:outputPositiveV', phase: 'bleeding', afterS: 0 }],
    orders: [{ order: 'stop', phase: 'joining-train', afterS }],
  };
}
