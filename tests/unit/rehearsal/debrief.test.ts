/** A debrief from what was collected alone: what counts as seen, in which order, and how it is told. */
import { describe, expect, it } from 'vitest';
import type { Code } from '../../../src/checks/catalogue.js';
import { debriefOf, type Fact, judge } from '../../../src/rehearsal/debrief.js';
import { type Exercise, exerciseSchema, type Seen } from '../../../src/rehearsal/exercise.js';
import type { Phase } from '../../../src/rig/roles.js';
import type { Outcome } from '../../../src/supervisor/outcome.js';
import type { PersonOrder } from '../../../src/supervisor/session-types.js';
import type { Opening } from '../../../src/supervisor/stand.js';

const exercise = (see: readonly Seen[], never: readonly Seen[] = []): Exercise =>
  exerciseSchema.parse({
    name: 'one',
    title: 'One of them',
    goal: 'Do it.',
    connection: 'cable',
    seed: 1,
    see,
    never,
    withinMin: 10,
    debrief: 'What to have seen.',
  });

/** A row of facts, one second apart. */
class Story {
  readonly facts: Fact[] = [];
  #say(what: object): this {
    this.facts.push({ atMs: 1000 * (this.facts.length + 1), ...what } as Fact);
    return this;
  }
  begun = (order: Opening, by = 'A') => this.#say({ kind: 'begun', order, by });
  ordered = (order: PersonOrder['order'], by = 'A', currentA?: number) =>
    this.#say({ kind: 'order', order: { order, by, ...(currentA === undefined ? {} : { currentA }) } });
  phase = (phase: Phase) => this.#say({ kind: 'phase', phase });
  limit = (limit: string) => this.#say({ kind: 'limit', limit: { limit, currentA: 120 } });
  finding = (code: Code) =>
    this.#say({
      kind: 'finding',
      finding: { code, failing: true, reading: 46.5, limit: 47, unit: 'Hz', setting: 'a.b', sinceMs: 0 },
    });
  trip = (code: Code, phase: Phase = 'holding') =>
    this.#say({
      kind: 'trip',
      trip: {
        ...{ code, part: 'p', effect: 'trip-0', phase, atS: 0, reading: 0.4, limit: 0.1, unit: 'V' },
        ...{ setting: 'x.y', detectedAfterMs: 50, fromInjectionMs: null },
      },
    });
  refused = (code: Code, asked: string, by = 'A') =>
    this.#say({
      kind: 'refusal',
      refusal: {
        ...{ code, asked, by, part: null, atS: 0, reading: 21, limit: 25, unit: 'degC', setting: 'x.y' },
        ...{ text: 'too cold', remedy: 'warm it' },
      },
    });
  ended = (
    outcome: Outcome['outcome'],
    exit: number,
    order: Opening = 'start',
    endReason: Outcome['endReason'] = 'target',
  ) => this.#say({ kind: 'ended', order, exit, outcome: { outcome, endReason, energyToBatteryKwh: 0.5 } });
}
const story = () => new Story();
const reached = (see: readonly Seen[], told: Story, never: readonly Seen[] = []): boolean =>
  judge(exercise(see, never), told.facts).reached;

describe('what was to be seen', () => {
  const TRIP: Seen = { see: 'tripped', codes: ['loop-open', 'loop-crushed'], phase: 'holding' };
  it.each<[string, Seen, Story, boolean]>([
    ['a phase', { see: 'phase', phase: 'closing' }, story().phase('closing'), true],
    ['another phase', { see: 'phase', phase: 'closing' }, story().phase('ramping'), false],
    ['a finding', { see: 'finding', code: 'supply-derated' }, story().finding('supply-derated'), true],
    ['another finding', { see: 'finding', code: 'cable-derated' }, story().finding('supply-derated'), false],
    ['a trip by one of the codes', TRIP, story().trip('loop-crushed'), true],
    ['a trip by another code', TRIP, story().trip('isolation-low'), false],
    ['a trip in another phase', TRIP, story().trip('loop-open', 'ramping'), false],
    ['any trip', { see: 'tripped' }, story().trip('isolation-low', 'ramping'), true],
    ['a finding that is no trip', TRIP, story().finding('loop-open'), false],
    ['a refusal', { see: 'refused', order: 'start' }, story().refused('cell-too-cold', 'start'), true],
    ['of another order', { see: 'refused', order: 'start' }, story().refused('latched', 'free-plug'), false],
    [
      'by another code',
      { see: 'refused', codes: ['latched'] },
      story().refused('cell-too-cold', 'start'),
      false,
    ],
    ['an order', { see: 'ordered', order: 'stop' }, story().ordered('stop'), true],
    ['an order that begins', { see: 'ordered', order: 'start' }, story().begun('start'), true],
    ['another order', { see: 'ordered', order: 'stop' }, story().ordered('trip-now'), false],
    ['a limit', { see: 'bound', limit: 'operator' }, story().limit('operator'), true],
    ['another limit', { see: 'bound', limit: 'operator' }, story().limit('cable'), false],
    ['an end', { see: 'ended', outcome: 'released', exit: 0 }, story().ended('released', 0), true],
    ['another exit', { see: 'ended', outcome: 'tripped', exit: 3 }, story().ended('tripped', 9), false],
    [
      'another reason',
      { see: 'ended', outcome: 'released', endReason: 'operator' },
      story().ended('released', 0),
      false,
    ],
    [
      'the end of another order',
      { see: 'ended', outcome: 'refused' },
      story().ended('refused', 0, 'acknowledge'),
      false,
    ],
    ['an acknowledgement', { see: 'acknowledged' }, story().ended('refused', 0, 'acknowledge'), true],
    ['one that was refused', { see: 'acknowledged' }, story().ended('refused', 4, 'acknowledge'), false],
    ['a plug freed', { see: 'plug-freed' }, story().ended('refused', 0, 'free-plug'), true],
    ['a plug freed by a release', { see: 'plug-freed' }, story().ended('released', 0), false],
    ['a hand-over', { see: 'handed-over' }, story().begun('start').ordered('stop', 'B'), true],
    [
      'one person alone',
      { see: 'handed-over' },
      story().begun('start').ordered('stop').begun('start'),
      false,
    ],
  ])('%s: %j', (_, seen, told, expected) => {
    expect(reached([seen], told)).toBe(expected);
  });
  it('must be seen in its order', () => {
    const see: Seen[] = [{ see: 'tripped' }, { see: 'acknowledged' }];
    const acknowledged = (s: Story) => s.ended('refused', 0, 'acknowledge');
    expect(reached(see, acknowledged(story().trip('loop-open')))).toBe(true);
    expect(reached(see, acknowledged(story()).trip('loop-open'))).toBe(false);
    // One thing counts once.
    expect(reached([{ see: 'tripped' }, { see: 'tripped' }], story().trip('loop-open'))).toBe(false);
    const { missing } = judge(exercise(see), story().trip('loop-open').facts);
    expect(missing).toEqual([{ see: 'acknowledged' }]);
  });
  it('is nothing live between a trip and its acknowledgement', () => {
    const never: Seen[] = [{ see: 'energised-after-trip' }];
    const see: Seen[] = [{ see: 'tripped' }];
    const tripped = () => story().phase('holding').trip('loop-open').phase('making-safe').phase('safe');
    expect(reached(see, tripped(), never)).toBe(true);
    expect(reached(see, tripped().begun('start').phase('securing'), never)).toBe(true);
    expect(reached(see, tripped().begun('start').phase('joining-train'), never)).toBe(false);
    expect(reached(see, tripped().ended('refused', 4, 'acknowledge').phase('closing'), never)).toBe(false);
    expect(reached(see, tripped().ended('refused', 0, 'acknowledge').phase('closing'), never)).toBe(true);
    // The second trip asks for an acknowledgement of its own.
    const twice = tripped().ended('refused', 0, 'acknowledge').phase('closing').trip('loop-open');
    expect(reached(see, twice.phase('closing'), never)).toBe(false);
  });
});

describe('a debrief', () => {
  const none = { made: [], originMs: 0, late: false };
  it('tells what was missing and what must not have been', () => {
    const { reached: isReached, lines } = debriefOf(
      exercise([{ see: 'tripped', codes: ['loop-open'] }, { see: 'acknowledged' }], [{ see: 'plug-freed' }]),
      { ...none, facts: story().ended('refused', 0, 'free-plug').facts, late: true },
    );
    expect(isReached).toBe(false);
    expect(lines.slice(0, 4)).toEqual([
      'Not reached.',
      'Not seen: a trip by loop-open; then the trip acknowledged.',
      'Must not have been, and was: the plug freed by an order of its own.',
      'The time was over: 10 min of sessions.',
    ]);
    expect(lines.at(-1)).toBe('What to have seen.');
  });
  it('tells what acted first, by its figures, once, and what was refused and why', () => {
    const told = story()
      .begun('start', 'A. Berg')
      .ordered('limit-current', 'A. Berg', 120)
      .trip('contact-drop')
      .finding('contact-drop')
      .finding('meter-disagrees')
      .refused('cell-too-cold', 'start');
    const { lines } = debriefOf(exercise([{ see: 'tripped' }]), { ...none, facts: told.facts });
    expect(lines.slice(0, 6)).toEqual([
      'Reached.',
      '1.0 s: A. Berg asked for start',
      '2.0 s: A. Berg ordered limit-current, to 120 A',
      '3.0 s: TRIP contact-drop (p) in holding',
      '5.0 s: found meter-disagrees: read 46.5 Hz, limit 47 Hz [a.b]',
      '6.0 s: refused start by A: cell-too-cold',
    ]);
    expect(lines[6]).toBe(
      'First to act at 3.0 s: contact-drop (p): read 0.4 V, limit 0.1 V [x.y], decided 50 ms after the first sample out of limit.',
    );
    expect(lines[8]).toBe(
      'Refused at 6.0 s: start by A, cell-too-cold: too cold: read 21 degC, limit 25 degC [x.y]. What would permit it: warm it.',
    );
  });
  it('tells every fault that was made, with its time in the exercise', () => {
    const made = [{ fault: 'loop-crush', part: '', magnitude: 5, atMs: 61_500 }] as const;
    const { lines } = debriefOf(exercise([{ see: 'tripped' }]), {
      facts: [],
      made,
      originMs: 60_000,
      late: false,
    });
    expect(lines.at(-2)).toBe(
      'What was wrong, from 1.5 s: loop-crush, 5 ohm: the diode is bridged by this resistance.',
    );
  });
  it('is of a bounded length', () => {
    const told = story();
    for (let k = 0; k < 500; k++) told.limit(k % 2 === 0 ? 'cable' : 'supply');
    const { lines } = debriefOf(exercise([{ see: 'tripped' }]), { ...none, facts: told.facts });
    expect(lines.length).toBeLessThan(130);
    expect(lines).toContain('and 380 more, which the journals have');
  });
});
