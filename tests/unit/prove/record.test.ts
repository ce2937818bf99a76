/** The record of a proof: what it is taken up from, and what it must not be mixed with. */
import { describe, expect, it } from 'vitest';
import { InputError } from '../../../src/host/input-error.js';
import {
  differs,
  headerLine,
  RECORD_FORMAT,
  RECORD_VERSION,
  type RecordHeader,
  type RunRecord,
  readRecord,
  runLine,
} from '../../../src/prove/record.js';

const header: RecordHeader = {
  format: RECORD_FORMAT,
  version: RECORD_VERSION,
  software: 'loopwarden 0',
  rig: 'a',
  rigHash: 'aa',
  procedures: [{ name: 'plug', hash: 'cc' }],
  seed: 1,
  repeat: null,
  step: null,
  charger: 'simulated',
  runs: 2,
  shard: null,
};
const run = (index: number): RunRecord => ({
  ...{ index, procedure: 'plug', step: 's', repeat: index + 1, seed: 9, journal: 'j', journalHash: 'h' },
  ...{ outcome: 'tripped', exit: 3, code: 'x', devices: [], measures: [], deviations: ['a "b" \u2028 é'] },
  first: { by: 'device', what: 'watchdog', n: 4 },
  verdict: 'fail',
  trace: { tMs: [0.25], currentA: [-1e-9], outputV: [1], plugV: [2], events: [] },
});
const TEXT = headerLine(header) + runLine(run(0)) + runLine(run(1));
const said = (text: string): string => {
  try {
    readRecord(text, 'r');
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return '';
};

describe('a record', () => {
  it('comes back as it was written', () => {
    expect(readRecord(TEXT, 'r')).toEqual({ header, runs: [run(0), run(1)] });
  });

  it('that was cut off anywhere in its last line has that run still to do', () => {
    const whole = headerLine(header).length + runLine(run(0)).length;
    for (const at of [whole, whole + 1, whole + 40, TEXT.length - 1])
      expect(readRecord(TEXT.slice(0, at), 'r').runs, String(at)).toEqual([run(0)]);
  });

  it('with a changed verdict, a line that is none or one twice is refused, with its line', () => {
    expect(said(TEXT.replace('"verdict":"fail"', '"verdict":"pass"'))).toMatch(
      /^r: line 2 is no run as it was/,
    );
    expect(said(`${TEXT}{}\n`)).toMatch(/^r: line 4 is no run/);
    expect(said(`${TEXT}nonsense\n`)).toMatch(/^r: line 4 is no run/);
    expect(said(TEXT + runLine(run(1)))).toMatch(/^r: line 4 is run 1 a second time/);
  });

  it('without its head is none', () => {
    for (const text of ['', 'x\n', '{}\n', runLine(run(0)), headerLine({ ...header, version: 2 as 1 })])
      expect(said(text), text).toMatch(/^r: line 1 is no record of a proof/);
  });

  it.each([
    [{ rig: 'b' }, 'rig is a in one and b in the other'],
    [{ rigHash: 'bb' }, 'rigHash is aa'],
    [{ seed: 2 }, 'seed is 1'],
    [{ repeat: 4 }, 'repeat is null'],
    [{ step: 's' }, 'step is null in one and s in the other'],
    [{ charger: 'watchdog-late' }, 'charger is simulated'],
    [{ software: 'loopwarden 1' }, 'software is loopwarden 0'],
    [{ procedures: [{ name: 'plug', hash: 'dd' }] }, 'the procedures are not the same'],
  ])('is of another proof by %j', (change, why) => {
    expect(differs(header, { ...header, ...change })).toContain(why);
    expect(differs(header, { ...header, shard: { index: 1, of: 3 } })).toBeNull();
  });
});
