/** Hard limits of cells: refusals while parked, trips on the bus. */
import { describe, expect, it } from 'vitest';
import { cells } from '../../../src/checks/cells.js';
import { Run, Scene } from './build.js';

type Raft = Scene['rafts'][number];
const CASES: [string, (r: Raft) => void][] = [
  [
    'cell-too-high',
    (r) => {
      r.cellMaxV = 4.21;
      r.cellMinV = 4.2;
    },
  ],
  [
    'cell-too-low',
    (r) => {
      r.cellMinV = 2.99;
      r.cellMaxV = 3.0;
    },
  ],
  [
    'cell-too-hot',
    (r) => {
      r.cellMaxC = 45.1;
    },
  ],
  [
    'cell-too-cold',
    (r) => {
      r.cellMinC = -0.1;
    },
  ],
  [
    'cell-spread',
    (r) => {
      r.cellMinV = 3.65;
      r.cellMaxV = 3.76;
    },
  ],
  [
    'battery-alarm',
    (r) => {
      r.alarm = 2;
    },
  ],
  [
    'cell-too-high',
    (r) => {
      r.cellMaxV = Number.NaN;
      r.cellMinV = Number.NaN;
    },
  ],
];

describe('cells', () => {
  it.each(CASES)('%s: refuses parked, trips on the bus, does not count off it', (code, spoil) => {
    const parked = new Run(cells, new Scene()).reports(1, (s) => spoil(s.rafts[1]!));
    expect(parked.failing.filter((f) => f.startsWith(code))).toEqual([]);
    expect(parked.reports(1).failing).toContain(`${code}/raft-2`);
    const live = new Run(cells, new Scene().charging(200)).reports(2, (s) => spoil(s.rafts[1]!));
    expect(live.failing).toContain(`${code}/raft-2`);
    const off = new Run(cells, new Scene().charging(200)).reports(3, (s) => {
      spoil(s.rafts[1]!);
      s.rafts[1]!.joined = 0;
    });
    expect(off.failing).toEqual([]);
  });
  it('does not trip on the ceiling: that only tapers', () => {
    const run = new Run(cells, new Scene().charging(200)).reports(5, (s) => {
      Object.assign(s.rafts[0]!, { cellMaxV: 4.19, cellMinV: 4.15 });
    });
    expect(run.failing).toEqual([]);
  });
  it('passes a warning on', () => {
    const run = new Run(cells, new Scene().charging(200)).reports(1, (s) => {
      s.rafts[2]!.alarm = 1;
    });
    expect(run.failing).toEqual(['battery-warning/raft-3']);
  });
  it('refuses a battery at its ceiling by state of charge or by every raft’s highest cell', () => {
    expect(new Run(cells, new Scene()).reports(1).failing).toEqual([]);
    const full = new Run(cells, new Scene()).reports(1, (s) =>
      s.rafts.forEach((r) => {
        r.soc = 0.9;
      }),
    );
    expect(full.failing).toEqual(['at-ceiling']);
    const one = new Run(cells, new Scene()).reports(1, (s) =>
      Object.assign(s.rafts[0]!, { cellMaxV: 4.16, cellMinV: 4.1 }),
    );
    expect(one.failing).toEqual([]);
    const all = new Run(cells, new Scene()).reports(1, (s) => {
      for (const r of s.rafts) Object.assign(r, { cellMaxV: 4.16, cellMinV: 4.1 });
    });
    expect(all.failing).toEqual(['at-ceiling']);
    const unknown = new Run(cells, new Scene()).reports(1, (s) => {
      s.rafts[0]!.soc = Number.NaN;
    });
    expect(unknown.failing).toEqual(['at-ceiling']);
  });
});
