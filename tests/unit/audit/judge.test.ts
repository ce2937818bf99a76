/** The judge on records made by hand: what it takes, and that it says no. */
import { describe, expect, it } from 'vitest';
import { INVARIANT_IDS } from '../../../machines/invariant-list.js';
import { I4 } from '../../../src/audit/invariants/i04-trips.js';
import { endBoundS, I10 } from '../../../src/audit/invariants/i10-ends.js';
import { I12 } from '../../../src/audit/invariants/i12-fixed.js';
import { OBSERVED } from '../../../src/audit/invariants/index.js';
import { Standing } from '../../../src/audit/invariants/watch.js';
import { Judge } from '../../../src/audit/judge.js';
import { checkOf, readLine } from '../../../src/audit/line-reader.js';
import { encodeRecord, type RecordKind } from '../../../src/journal/format.js';
import { loadRig } from '../../../src/rig/load.js';

const NONCE = '0123abcd';
const { rig } = loadRig('depot-cable');
const sealed = (head: string): string => `${head}*${checkOf(head)}`;

/** A journal of these records, 50 ms apart. */
function journal(...records: readonly (readonly [RecordKind, unknown])[]): string {
  const all = [['header', { nonce: NONCE }] as const, ['rig', { rig }] as const, ...records];
  return all.map(([kind, body], n) => encodeRecord(n, n * 50e6, kind, body)).join('');
}
function brokenBy(...records: readonly (readonly [RecordKind, unknown])[]): string[] {
  const judge = new Judge();
  judge.text(journal(...records));
  return judge.end().map((b) => `${b.id}: ${b.why}`);
}
const frame = (seq: number, nonce = NONCE): readonly [RecordKind, unknown] => [
  'frame',
  [0, sealed(`<${nonce} ${seq} tag ev:1,cleared,0`)],
];
const COLUMNS = [
  ...['tMs', 'plugPositiveV', 'plugNegativeV', 'seated', 'locked', 'bondOhm', 'immobile'],
  ...['trainPoleP', 'trainPoleN'],
];
const order = (name: string, args: object, seq = 1): readonly [RecordKind, unknown] => [
  'order',
  { port: 0, seq, orders: [{ name, args }], sent: true },
];

describe('a line read for the audit', () => {
  it('has the check of the standard example', () => {
    // CRC-32C of "123456789": RFC 3720 names the polynomial, the value is the usual check value (from memory).
    expect(checkOf('123456789')).toBe('e3069283');
  });
  it('is read by the dictionary, what is empty as unreadable', () => {
    const head = `<${NONCE} 7 report dv:1,2,0,0,0 st:5,1,`;
    const line = readLine(sealed(head));
    expect(line).toMatchObject({ direction: '<', nonce: NONCE, seq: 7, verb: 'report', crcFits: true });
    expect(line.roles.get('stop')).toEqual({ sample: 5, chainClosed: 1, buttonPressed: Number.NaN });
    expect(readLine(`${head}*00000000`).crcFits).toBe(false);
    expect(readLine('').crcFits).toBe(false);
  });
});

describe('the judge', () => {
  it('has a definition for each invariant, in order', () => {
    expect(OBSERVED.map((i) => i.id)).toEqual(INVARIANT_IDS);
  });
  it('finds nothing wrong in a session that only listens', () => {
    expect(brokenBy(frame(1), frame(2), frame(5))).toEqual([]);
  });
  it('takes a journal cut anywhere', () => {
    const text = journal(frame(2), frame(1));
    const judge = new Judge();
    for (const letter of text) judge.text(letter);
    expect(judge.end().map((b) => [b.id, b.where, b.tMs])).toEqual([['I8', 'journal', 150]]);
  });
  it('I8: another session, a repeated number, a damaged line, a port that is down', () => {
    expect(brokenBy(frame(1, 'ffffffff'))).toEqual(['I8: a line of session ffffffff was used']);
    expect(brokenBy(frame(1), frame(1))).toEqual(['I8: line 1 was used after 1']);
    expect(brokenBy(['frame', [0, `<${NONCE} 1 tag ev:1,cleared,0*00000000`]])).toHaveLength(1);
    const name = rig.link.ports[0]?.name;
    expect(brokenBy(['port', { port: name, down: 'unplugged' }], frame(1))).toEqual([
      'I8: a line of a port that is down',
    ]);
  });
  it('names every invariant that an order out of the blue breaks', () => {
    const judge = new Judge();
    judge.text(journal(order('close-p', {})));
    judge.end();
    expect(judge.broken.sort()).toEqual(['I1', 'I11', 'I12', 'I7']);
  });
  it('I3 and I2: a set-point that nothing permits', () => {
    const wrong = brokenBy(order('setpoint', { currentA: 50, voltageV: 700 }));
    expect(wrong.some((w) => w.startsWith('I3'))).toBe(true);
    expect(wrong.some((w) => w.startsWith('I2'))).toBe(true);
  });
  describe('I4: make-safe that a port did not take', () => {
    const why = 'I4: make-safe was not taken by port charger, which is not down';
    const start = ['event', 'start'] as const;
    const state = (value: string) =>
      ['state', { value, flags: { latched: value === 'making-safe' } }] as const;
    const port0 = rig.link.ports[0]?.name;
    const down = ['port', { port: port0, down: 'unplugged' }] as const;
    const makeSafe = (sent: boolean) =>
      ['order', { port: 0, seq: 1, orders: [{ name: 'make-safe', args: {} }], sent }] as const;
    // Records lie 50 ms apart: this is a second and a half.
    const later = Array.from({ length: 30 }, () => ['tick', null] as const);
    const judged = (...records: readonly (readonly [RecordKind, unknown])[]): string[] => {
      const judge = new Judge([I4]);
      judge.text(
        // The step of the trip is one moment.
        journal(start, state('securing'), ...records)
          .split('\n')
          .map((line) =>
            /make-safe|trip-0|making-safe/.test(line) ? line.replace(/"t":\d+/, '"t":225000000') : line,
          )
          .join('\n'),
      );
      return judge.end().map((b) => `${b.id}: ${b.why}`);
    };
    const trip = (sent: boolean) => [makeSafe(sent), ['event', 'trip-0'], state('making-safe')] as const;

    it('was not ordered: a port that stays up takes orders', () => {
      expect(port0).toBe('charger');
      expect(judged(...trip(false), ...later)).toEqual([why]);
    });
    it('was ordered where the port took it', () => {
      expect(judged(...trip(true), ...later)).toEqual([]);
    });
    it('is nobody’s fault where the port is down, or is found to be within a second', () => {
      expect(judged(down, ...trip(false), ...later)).toEqual([]);
      expect(judged(...trip(false), down, ...later)).toEqual([]);
      expect(judged(...trip(false), ...later, down)).toEqual([why]);
    });
  });
  it('I11: an answer to a frame nobody journaled', () => {
    const answer = sealed(`<${NONCE} 1 answer re:9,0,`);
    expect(brokenBy(['frame', [0, answer]])).toEqual([
      'I11: port 0 answers frame 9, which is not in the journal',
    ]);
  });
  it('I10: a session without an end, unless its journal could not take one', () => {
    const started = [
      ['event', 'start'],
      ['state', { value: 'securing', flags: { latched: false } }],
    ] as const;
    const ends = new Judge([I10]);
    ends.text(journal(...started));
    expect(ends.end().map((b) => b.why)).toEqual(['a session was started and has no end']);
    const judge = new Judge([I10]);
    judge.text(journal(...started));
    expect(judge.end({ outcome: 'tripped', endState: { provenDead: false } })).toEqual([]);
  });
  it('I10: bounds the end by the deadlines of the phases that lead there', () => {
    const bound = endBoundS(rig);
    // 300 A ÷ 100 A/s and a second, 15 s to make safe, 2 s of margin; 30 + 10 + 5 + 10 + 5 s on the ordinary way.
    expect(bound.afterTrip).toBe(3 + 1 + 15 + 2);
    expect(bound.afterStop).toBe(bound.afterTrip + 60);
  });
  it('I12: a plug that rises loose is ours, unless the train’s own contactor will not open after a trip', () => {
    /** Rows without a bond: dead for ten seconds, then 61 V from N to chassis. */
    const rises = (faults: readonly string[], trainPoleN: number, tripped: boolean): number => {
      const judge = new Judge([I12]);
      judge.columns(COLUMNS);
      for (const fault of faults) judge.faults.add(fault);
      judge.text(journal(['event', 'start'], ...(tripped ? [['event', 'trip-0'] as const] : [])));
      for (const [tMs, negativeV] of [
        [0, -59],
        [10_000, -59],
        [10_010, -61],
      ] as const)
        judge.row([tMs, 0, negativeV, 1, 1, 36, 1, 0, trainPoleN]);
      return judge.end().filter((b) => b.why.startsWith('the plug rises to 61 V')).length;
    };
    expect(rises([], 0, true)).toBe(1);
    expect(rises([], 1, true)).toBe(1);
    expect(rises(['train-aux-says-open'], 1, true)).toBe(0);
    expect(rises(['train-contactor-weld'], 1, true)).toBe(0);
    expect(rises(['train-aux-says-open'], 0, true)).toBe(1);
    expect(rises(['train-aux-says-open'], 1, false)).toBe(1);
    expect(rises(['train-live'], 0, false)).toBe(0);
  });
  it('tells no more of one kind than helps', () => {
    const many = Array.from({ length: 50 }, () => frame(1, 'ffffffff'));
    expect(brokenBy(...many)).toHaveLength(5);
  });
});

it('a condition is told once when it has stood too long, and anew after it was gone', () => {
  const standing = new Standing(100);
  const told = [0, 100, 101, 200].map((ms) => standing.take(true, ms));
  expect(told).toEqual([false, false, true, false]);
  standing.take(false, 300);
  expect([400, 501].map((ms) => standing.take(true, ms))).toEqual([false, true]);
});
