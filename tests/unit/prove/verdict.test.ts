/** Verdicts, spread and limits of a proof. */
import { describe, expect, it } from 'vitest';
import { boundOf } from '../../../src/prove/limits.js';
import { UNSEEN } from '../../../src/prove/measure.js';
import { judge, spread, worstOf } from '../../../src/prove/verdict.js';
import { loadRig } from '../../../src/rig/load.js';

const measured = (lo: number, value: number, hi: number) => ({ lo, value, hi, n: 1 });
const NONE = Number.NaN;

describe('a verdict', () => {
  it('passes only what lies within the limit with its whole interval', () => {
    expect(judge(measured(8, 9, 10), 10, NONE)).toBe('pass');
    expect(judge(measured(8, 9, 10), 9.999, NONE)).toBe('inconclusive');
    expect(judge(measured(8, 9, 10), 8, NONE)).toBe('inconclusive');
    expect(judge(measured(8, 9, 10), 7.999, NONE)).toBe('fail');
  });

  it('holds a lower limit the other way round, and takes the worse of two', () => {
    expect(judge(measured(8, 9, 10), NONE, 8)).toBe('pass');
    expect(judge(measured(8, 9, 10), NONE, 8.001)).toBe('inconclusive');
    expect(judge(measured(8, 9, 10), NONE, 10.001)).toBe('fail');
    expect(judge(measured(8, 9, 10), 9, 11)).toBe('fail');
  });

  it('never passes what was not seen, or has no end', () => {
    expect(judge(UNSEEN, 1e9, NONE)).toBe('fail');
    expect(judge(measured(NONE, 5, NONE), 10, NONE)).toBe('inconclusive');
    expect(judge(measured(5, 5, Number.POSITIVE_INFINITY), 10, NONE)).toBe('inconclusive');
    expect(judge(measured(Number.NEGATIVE_INFINITY, 5, 6), NONE, 1)).toBe('inconclusive');
  });

  it('counts what is not applicable for nothing', () => {
    expect(worstOf([])).toBe('not-applicable');
    expect(worstOf(['not-applicable', 'pass'])).toBe('pass');
    expect(worstOf(['pass', 'inconclusive', 'not-applicable'])).toBe('inconclusive');
    expect(worstOf(['inconclusive', 'fail', 'pass'])).toBe('fail');
  });
});

describe('a spread', () => {
  it('tells values that were measured, by nearest rank', () => {
    // Twenty values: the median is the 10th, the 95th percentile the 19th.
    const values = Array.from({ length: 20 }, (_, k) => 20 - k);
    expect(spread(values)).toEqual({ n: 20, min: 1, median: 10, p95: 19, max: 20 });
    expect(spread([3, 1])).toEqual({ n: 2, min: 1, median: 1, p95: 3, max: 3 });
  });

  it('counts only what was seen', () => {
    expect(spread([NONE, 7, Number.POSITIVE_INFINITY])).toEqual({ n: 1, min: 7, median: 7, p95: 7, max: 7 });
    expect(spread([NONE])).toBeNull();
  });
});

describe('a limit', () => {
  const loaded = loadRig('depot-cable');
  const base = { times: 1, plus: 0 };

  it('takes a figure of the rig with the source that stands there', () => {
    const bound = boundOf({ ...base, rig: 'link.deviceWatchdogMs', plus: 5, source: 'a step' }, loaded);
    expect(bound?.value).toBe(loaded.rig.link.deviceWatchdogMs + 5);
    expect(bound?.source).toBe(
      'link.deviceWatchdogMs of the rig + 5: at least 3 periods; invented for the demo rig; a step',
    );
  });

  it('multiplies two: 60 ohm and 8 mF are 0.48 s', () => {
    const bound = boundOf(
      { rig: 'bleeder.outputOhm', by: 'converter.capacitanceF', times: 1000, plus: 0 },
      loaded,
    );
    expect(bound?.value).toBeCloseTo(480, 9);
    expect(bound?.source).toMatch(/^bleeder\.outputOhm × converter\.capacitanceF of the rig × 1000: /);
  });

  it('is none where the rig has no such figure', () => {
    for (const rig of ['bleeder.outputOhms', 'bleeder', 'link.ports', 'name', 'toString'])
      expect(boundOf({ ...base, rig }, loaded), rig).toBeNull();
    expect(boundOf({ ...base, rig: 'bleeder.outputOhm', by: 'nothing' }, loaded)).toBeNull();
  });
});
