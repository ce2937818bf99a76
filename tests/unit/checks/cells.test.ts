/** Hard limits of cells: refusals while parked, trips on the bus. */
import { describe, expect, it } from 'vitest';
import { cells } from '../../../src/checks/cells.js';
import { generatorYard, Run, Scene } from './build.js';
import { feed } from './spoil.js';

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

describe('limits of the rig', () => {
  it.each([
    ['cell-too-high', { cellMaxV: 4.2, cellMinV: 4.15 }, { cellMaxV: 4.201, cellMinV: 4.15 }, 4.2, 'V'],
    ['cell-too-low', { cellMaxV: 3.05, cellMinV: 3 }, { cellMaxV: 3.05, cellMinV: 2.999 }, 3, 'V'],
    ['cell-too-hot', { cellMaxC: 45 }, { cellMaxC: 45.1 }, 45, 'degC'],
    ['cell-too-cold', { cellMinC: 0 }, { cellMinC: -0.1 }, 0, 'degC'],
    ['cell-spread', { cellMaxV: 3.75, cellMinV: 3.6501 }, { cellMaxV: 3.75, cellMinV: 3.6499 }, 0.1, 'V'],
    ['battery-alarm', { alarm: 1 }, { alarm: 2 }, 1, ''],
  ] as const)('%s: up to it, and not beyond', (code, inside, beyond, limit, unit) => {
    const run = new Run(cells, new Scene().charging(200));
    run.reports(4, (s) => Object.assign(s.rafts[1]!, inside));
    expect(run.failing.filter((f) => !f.startsWith('battery-warning'))).toEqual([]);
    expect(run.reports(1, (s) => Object.assign(s.rafts[1]!, beyond)).finding(code, 'raft-2').failing).toBe(
      false,
    );
    expect(run.reports(1).finding(code, 'raft-2')).toMatchObject({ failing: true, limit, unit });
    expect(run.finding(code, 'raft-1').failing).toBe(false);
  });
  it('a tick is no second report', () => {
    const run = new Run(cells, new Scene().charging(200)).reports(1, (s) =>
      Object.assign(s.rafts[1]!, { cellMaxC: 50 }),
    );
    expect(run.tick(25).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['cell-too-hot/raft-2']);
  });
});

describe('whom it asks, and when', () => {
  const hot = (scene: Scene) =>
    new Run(cells, scene).reports(1, (s) => Object.assign(s.rafts[1]!, { cellMaxC: 50 }));
  it.each(['securing', 'ramping', 'ramping-down', 'bleeding', 'tripped-ramping-down'] as const)(
    'the rafts on the bus while %s',
    (phase) => {
      const run = hot(new Scene().charging(200));
      run.scene.enter(phase);
      expect(run.reports(1).failing).toEqual(['cell-too-hot/raft-2']);
      expect(run.last.findings.map((f) => f.code)).not.toContain('at-ceiling');
    },
  );
  it.each(['released', 'making-safe', 'safe'] as const)('nobody while %s; it begins anew', (phase) => {
    const run = hot(new Scene().charging(200));
    run.scene.enter(phase);
    expect(run.reports(1).last.findings).toEqual([]);
    run.scene.enter('holding');
    expect(run.reports(1).failing).toEqual([]);
  });
  it('nobody older than 2 s; then it begins anew', () => {
    const run = hot(new Scene().charging(200));
    run.scene.frozen.add('raft2');
    expect(run.reports(40).last.findings.some((f) => f.part === 'raft-2')).toBe(true);
    expect(run.reports(1).last.findings.some((f) => f.part === 'raft-2')).toBe(false);
    run.scene.frozen.delete('raft2');
    expect(run.reports(1).failing).toEqual([]);
  });
  it('counts from the first report, even when a tick came before it', () => {
    const run = new Run(cells, new Scene().charging(200));
    run.scene.report();
    Object.assign(run.scene.rafts[1]!, { cellMaxC: 50 });
    expect(run.tick(25).failing).toEqual([]);
    expect(run.reports(2).failing).toEqual(['cell-too-hot/raft-2']);
  });
  it('no generator: it has no cells', () => {
    const run = new Run(cells, new Scene(generatorYard)).reports(2, (s) =>
      Object.assign(s.rafts[3]!, { cellMaxC: Number.NaN, alarm: 2, soc: Number.NaN, cellMaxV: Number.NaN }),
    );
    expect(run.failing).toEqual([]);
    expect(run.last.findings.some((f) => f.part === 'generator')).toBe(false);
  });
});

describe('full', () => {
  const parked = (spoil: (s: Scene) => void) => new Run(cells, new Scene()).reports(1, spoil);
  const cell = (s: Scene, ...cellMaxV: number[]) =>
    s.rafts.forEach((r, i) => {
      Object.assign(r, { cellMaxV: cellMaxV[i], cellMinV: 4.1 });
    });
  it('is every raft at 4.12 V, no less', () => {
    expect(parked((s) => cell(s, 4.12, 4.12, 4.12, 4.12)).failing).toEqual(['at-ceiling']);
    expect(parked((s) => cell(s, 4.12, 4.12, 4.119, 4.12)).failing).toEqual([]);
  });
  it('is the mean of those that were seen', () => {
    const run = parked(() => {});
    const [, ...rest] = run.scene.report().rafts;
    expect(feed(run, { rafts: [null, ...rest] }).findings.at(-1)).toMatchObject({
      failing: false,
      reading: 0.55,
    });
    // Nobody seen is not full: that nobody is seen, is said elsewhere.
    expect(feed(run, { rafts: [null, null, null, null] }).findings).toMatchObject([
      { code: 'at-ceiling', failing: false },
    ]);
  });
});
