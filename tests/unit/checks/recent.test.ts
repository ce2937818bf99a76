/** The bounded window against the plain way to write it. */
import fc from 'fast-check';
import { expect, it } from 'vitest';
import { recentWith } from '../../../src/checks/recent.js';

it('keeps what adding, filtering and cutting would keep', () => {
  const times = fc.array(fc.integer({ min: 0, max: 40 }), { maxLength: 12 });
  fc.assert(
    fc.property(
      times,
      fc.integer({ min: 0, max: 20 }),
      fc.integer({ min: 1, max: 8 }),
      (at, keepMs, most) => {
        const before = at.sort((a, b) => a - b).map((tMs) => ({ tMs }));
        const newest = { tMs: (at.at(-1) ?? 0) + 3 };
        const plain = [...before, newest].filter((each) => newest.tMs - each.tMs <= keepMs).slice(-most);
        expect(recentWith(before, newest, keepMs, most)).toEqual(plain);
      },
    ),
  );
});
