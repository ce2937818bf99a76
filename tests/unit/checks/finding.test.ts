/** A finding carries what its verdict rests on, and names a part only where there are several. */
import { expect, it } from 'vitest';
import { flag, state, stateWatch } from '../../../src/checks/finding.js';
import { CALM, watch } from '../../../src/checks/watch.js';

const against = { limit: 300, unit: 'A', setting: 'connection.ratedCurrentA' };

it('says the figure, its limit and where that comes from', () => {
  const said = { code: 'over-current', failing: true, reading: 310, sinceMs: 900, ...against } as const;
  expect(state('over-current', true, 310, against, 900)).toStrictEqual(said);
  expect(state('over-current', true, 310, against, 900, 'raft-2')).toStrictEqual({ ...said, part: 'raft-2' });
});
it('fails since the first sample of a row that is long enough, and is of this moment until then', () => {
  let row = watch(CALM, false, true, 100);
  const told = (nowMs: number) => stateWatch('over-current', row, 2, 50, 310, against, nowMs, 'P');
  expect(told(100)).toMatchObject({ failing: false, sinceMs: 100, part: 'P' });
  row = watch(row, false, true, 149);
  expect(told(149)).toMatchObject({ failing: false, sinceMs: 149 });
  row = watch(row, false, true, 150);
  expect(told(170)).toMatchObject({ failing: true, sinceMs: 100, reading: 310, ...against });
});
it('holds a flag against what it must read', () => {
  expect(flag(1, 'latch.seated')).toEqual({ limit: 1, unit: '', setting: 'latch.seated' });
});
