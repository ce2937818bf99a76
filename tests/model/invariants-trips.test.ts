/** What a trip must be answered by, and what comes after it: I4 and I6, each kept and broken by one step. */
import { describe, expect, it } from 'vitest';
import { EVENT_TYPES } from '../../machines/vocabulary.js';
import {
  AUTHORISED,
  AUTHORITIES,
  breaks,
  CLOSED,
  DEADLINES,
  ENDS,
  ENERGISING,
  type EventType,
  judge,
  keeps,
  READY,
  type Row,
  remembered,
  START,
  STEPS_OF_THE_SEQUENCE,
} from './steps.js';

describe('I4: a trip is answered in its own step', () => {
  it('trip-0 needs make-safe, whatever else is ordered', () => {
    keeps(...READY, ['trip-0', ['make-safe']]);
    breaks([...READY, ['trip-0']], 'I4 trip-0 without make-safe');
    breaks([...AUTHORISED, ['trip-0', ['ramp-down']]], 'I4 trip-0 without make-safe');
  });
  it('a trip-0 that is not heard is not answered', () => {
    breaks([START, ['trip-0', [], { refused: true }]], 'I4 trip-0 without make-safe');
  });
  it('trip-1 needs ramp-down under authority, and make-safe will do too', () => {
    keeps(...AUTHORISED, ['trip-1', ['ramp-down']]);
    keeps(...AUTHORISED, ['trip-1', ['make-safe']]);
    breaks([...AUTHORISED, ['trip-1']], 'I4 trip-1 without ramp-down');
    breaks([...AUTHORISED, ['trip-1', [], { refused: true }]], 'I4 trip-1 without ramp-down');
  });
  it.each(AUTHORITIES)('%s is authority', (order) => {
    keeps(...CLOSED, ['at-hold-point', [order]], ['trip-1', ['ramp-down']]);
  });
  it('trip-1 needs make-safe where no authority stands', () => {
    keeps(...READY, ['trip-1', ['make-safe']]);
    breaks([...READY, ['trip-1', ['ramp-down']]], 'I4 trip-1 without make-safe');
    breaks([...READY, ['trip-1']], 'I4 trip-1 without make-safe');
  });
  it('the authority ends with the converter', () => {
    const off: Row = ['current-zero', ['disable-converter']];
    breaks([...AUTHORISED, off, ['trip-1', ['ramp-down']]], 'I4 trip-1 without make-safe');
  });
  it('make-safe takes back authority and poles, and what is proven of the train stays proven', () => {
    const { authority, closedP, closedN, polesFollow, makingSafe, tripped, secured } = remembered(
      ...AUTHORISED,
      ['trip-0', ['make-safe']],
    );
    expect({ authority, closedP, closedN, polesFollow }).toEqual({
      authority: false,
      closedP: false,
      closedN: false,
      polesFollow: false,
    });
    expect({ makingSafe, tripped, secured }).toEqual({ makingSafe: true, tripped: true, secured: true });
  });
  it('a second trip-1 is answered by what the first one ordered', () => {
    keeps(...AUTHORISED, ['trip-1', ['ramp-down']], ['trip-1', [], { refused: true }]);
  });
  it('a trip-0 after a trip-1 still needs make-safe', () => {
    breaks([...AUTHORISED, ['trip-1', ['ramp-down']], ['trip-0']], 'I4 trip-0 without make-safe');
  });
  it.each(DEADLINES)('a deadline missed (%s) needs make-safe', (timer) => {
    const event: EventType = `elapsed.${timer}`;
    keeps(...READY, [event, ['make-safe'], { latch: [false, true] }]);
    breaks([...READY, [event, [], { latch: [false, true] }]], `I4 ${event} without make-safe`);
    // A timer nobody waits for any more is no deadline.
    keeps(...READY, [event, [], { refused: true }]);
  });
  it.each(STEPS_OF_THE_SEQUENCE)('the end of %s is a step of the sequence, no trip', (timer) => {
    keeps(...READY, [`elapsed.${timer}` as EventType]);
  });
  it('asks nothing of any event that is no trip', () => {
    const trips: readonly string[] = ['trip-0', 'trip-1', ...DEADLINES.map((timer) => `elapsed.${timer}`)];
    const others = EVENT_TYPES.filter((event) => !trips.includes(event));
    expect(others).toHaveLength(EVENT_TYPES.length - 2 - 12);
    for (const event of others) keeps(...AUTHORISED, [event]);
  });
  it.each(ENDS)('asks nothing where nothing is under way: %s', (at) => {
    for (const trip of ['trip-0', 'trip-1'] as const) keeps(START, [trip, [], { at, refused: true }]);
  });
  it('asks nothing before a start, nor once it is being made safe', () => {
    for (const trip of ['trip-0', 'trip-1'] as const) keeps([trip, [], { refused: true }]);
    keeps(...READY, ['trip-0', ['make-safe']], ['trip-0', [], { refused: true }]);
    keeps(...READY, ['stop', ['make-safe']], ['trip-1', [], { refused: true }]);
  });
});

describe('I6: after a trip nothing restarts by itself', () => {
  const TRIPPED: readonly Row[] = [...READY, ['trip-0', ['make-safe']]];

  it('no start while latched', () => {
    breaks([['start', ['lock'], { latch: [true, true] }]], 'I6 start while latched');
    keeps(['start', [], { latch: [true, true], refused: true }]);
    keeps(['start', ['lock'], { latch: [false, false] }]);
  });
  it('a latch from before this session is no bar to anything but a start', () => {
    keeps(['stop', [], { latch: [true, true] }]);
  });
  it('is acknowledged only after a proof', () => {
    breaks([...TRIPPED, ['acknowledge']], 'I6 acknowledged before it was proven dead');
    keeps(...TRIPPED, ['proven-dead', [], { to: 'safe' }], ['acknowledge', [], { at: 'safe', to: 'parked' }]);
    keeps(...TRIPPED, ['acknowledge', [], { refused: true }]);
  });
  it('a latch that stands without a trip of this session is acknowledged as it is', () => {
    keeps(['acknowledge', ['clear-latch'], { at: 'parked', latch: [true, false] }]);
  });
  it('the latch falls by an acknowledgement alone', () => {
    breaks(
      [...TRIPPED, ['proven-dead', [], { to: 'safe', latch: [true, false] }]],
      'I6 the latch falls without an acknowledgement',
    );
    breaks([['stop', [], { latch: [true, false] }]], 'I6 the latch falls without an acknowledgement');
  });
  it.each(['trip-0', 'trip-1', 'elapsed.securing'] as const)('%s is latched in its own step', (event) => {
    breaks([START, [event, ['make-safe'], { latch: [false, false] }]], 'I6 a trip is not latched');
    keeps(START, [event, ['make-safe'], { latch: [false, true] }]);
  });
  it.each(['parked', 'released'])('no trip leads to %s', (to) => {
    breaks([START, ['trip-0', ['make-safe'], { to }]], `I6 a trip leads to ${to}`);
    breaks([...TRIPPED, ['proven-dead', [], { to }]], `I6 a trip leads to ${to}`);
    keeps(START, ['stop', [], { to }]);
  });
  it.each(ENERGISING)('%s is not ordered after a trip', (order) => {
    const rows: Row[] = [...CLOSED, ['trip-1', ['ramp-down', 'make-safe']], ['stop', [order]]];
    expect(judge(rows)).toContain(`I6 ${order} after a trip`);
    expect(judge([...CLOSED, ['trip-0', ['make-safe', order]]])).toContain(`I6 ${order} after a trip`);
  });
  it('what makes safer may be ordered after a trip', () => {
    keeps(...TRIPPED, ['stop', ['open-p', 'bleed-output', 'bleed-plug', 'open-train', 'set-latch']]);
  });
  it('says nothing of what is refused after a trip', () => {
    keeps(...TRIPPED, ['start', [], { refused: true, to: 'parked' }]);
  });
  it('lets a session begin again once it was acknowledged', () => {
    keeps(...TRIPPED, ['proven-dead', [], { to: 'safe' }], ['acknowledge'], ...READY, ['stop', ['close-p']]);
  });
});
