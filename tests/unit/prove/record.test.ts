/** The record of a proof: what it is taken up from, and what it must not be mixed with. */
import { describe, expect, it } from 'vitest';
import { InputError } from '../../../src/host/input-error.js';
import {
  differs,
  headerLine,
  type ProofHeader,
  type RunRecord,
  readPart,
  runLine,
} from '../../../src/prove/record.js';

const header: ProofHeader = {
  kind: 'prove',
  software: 'loopwarden 0',
  build: 'b',
  from: 0,
  rig: 'a',
  rigHash: 'aa',
  procedures: [{ name: 'plug', hash: 'cc' }],
  seed: 1,
  repeat: null,
  step: null,
  charger: 'simulated',
  cases: 2,
  shard: { index: 1, of: 1 },
};
const run = (index: number): RunRecord => ({
  ...{ index, procedure: 'plug', step: 's', repeat: index + 1, seed: 9, journal: 'j', journalHash: 'h' },
  ...{ outcome: 'tripped', exit: 3, code: 'x', devices: [], measures: [], deviations: ['a "b" \u2028 é'] },
  first: { by: 'device', what: 'watchdog', n: 4 },
  verdict: 'fail',
  trace: { zero: 'mark', every: 1, tMs: [0.25], currentA: [-1e-9], outputV: [1], plugV: [2], events: [] },
});
const TEXT = headerLine(header) + runLine(run(0)) + runLine(run(1));
const said = (text: string): string => {
  try {
    readPart(text, 'r');
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return '';
};

describe('a record', () => {
  it('comes back as it was written', () => {
    expect(readPart(TEXT, 'r')).toEqual({ header, runs: [run(0), run(1)] });
  });

  it('that was cut off anywhere in its last line has that run still to do', () => {
    const whole = headerLine(header).length + runLine(run(0)).length;
    for (const at of [whole, whole + 1, whole + 40, TEXT.length - 1])
      expect(readPart(TEXT.slice(0, at), 'r').runs, String(at)).toEqual([run(0)]);
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
    for (const text of ['', 'x\n', '{}\n', runLine(run(0))])
      expect(said(text), text).toMatch(/^r: line 1 is no begun proof/);
  });

  it.each([
    [{ rig: 'b' }, 'rig is "a" there and "b" now'],
    [{ rigHash: 'bb' }, 'rigHash is "aa" there'],
    [{ seed: 2 }, 'seed is 1 there'],
    [{ repeat: 4 }, 'repeat is null there'],
    [{ step: 's' }, 'step is null there and "s" now'],
    [{ charger: 'watchdog-late' }, 'charger is "simulated" there'],
    [{ build: 'c' }, 'build is "b" there'],
    [{ procedures: [{ name: 'plug', hash: 'dd' }] }, 'procedures is '],
    [{ shard: { index: 1, of: 3 } }, 'shard is '],
  ])('is of another proof by %j', (change, why) => {
    expect(differs(header, { ...header, ...change })).toContain(why);
    expect(differs(header, { ...header })).toBeNull();
  });
});
