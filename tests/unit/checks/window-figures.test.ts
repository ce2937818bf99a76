/** The battery's window in figures: smoothing, what counts as binding, and each end at its very boundary. */
import { describe, expect, it } from 'vitest';
import { batteryWindow } from '../../../src/checks/window.js';
import type { Phase } from '../../../src/rig/roles.js';
import { generatorYard, Run, Scene } from './build.js';
import { feed } from './spoil.js';

/** Ceiling 4.12 V; at 25 °C (24 + 10 + 8) mΩ ÷ 28 cells beside: 1.5 mΩ, of which a quarter share sees 0.375 mΩ. */
const CEILING_V = 4.12;
const QUARTER_OHM = 0.042 / 28 / 4;

function warm(currentA: number, phase: Phase = 'holding', scene = new Scene()): Scene {
  scene.charging(currentA, phase);
  for (const r of scene.rafts) r.cellMinC = 25;
  return scene;
}
/** Highest cells this far below the ceiling. */
const room = (s: Scene, headroomV: number, spreadV = 0.01): Scene => {
  for (const r of s.rafts)
    Object.assign(r, { cellMaxV: CEILING_V - headroomV, cellMinV: CEILING_V - headroomV - spreadV });
  return s;
};
const at = (currentA: number, headroomV: number, phase: Phase = 'holding') =>
  new Run(batteryWindow, room(warm(currentA, phase), headroomV));
/** What the first raft carries, and each of the others. */
function split(s: Scene, firstA: number, otherA: number): void {
  for (const [i, r] of s.rafts.entries()) r.packA = i === 0 ? firstA : otherA;
}
const ceiling = <S>(run: Run<S>): number => run.limit('cell ceiling');

describe('the cell ceiling', () => {
  it.each([
    ['room for 80 A', 0.03, (_: Scene) => {}, 200 + 0.03 / QUARTER_OHM],
    ['no room', 0, (_: Scene) => {}, 200],
    ['beyond it', -0.03, (_: Scene) => {}, 120],
    ['far beyond', -1, (_: Scene) => {}, 0],
    // 45 K below 25 °C a cell has twice the resistance.
    ['cold', 0.03, (s: Scene) => Object.assign(s.rafts[2]!, { cellMinC: -20 }), 200 + 0.015 / QUARTER_OHM],
    [
      'one raft higher',
      0.03,
      (s: Scene) => Object.assign(s.rafts[2]!, { cellMaxV: 4.11 }),
      200 + 0.01 / QUARTER_OHM,
    ],
    ['one that carries 40 %', 0.03, (s: Scene) => split(s, 80, 40), 250],
    ['a cell unreadable', 0.03, (s: Scene) => Object.assign(s.rafts[2]!, { cellMaxV: Number.NaN }), 0],
    ['the current unreadable', 0.03, (s: Scene) => Object.assign(s.meter, { currentA: Number.NaN }), 0],
    ['a current that flows back', 0.03, (s: Scene) => Object.assign(s.meter, { currentA: -50 }), 80],
  ] as [string, number, (s: Scene) => void, number][])('%s', (_, headroomV, spoil, currentA) => {
    const run = at(200, headroomV);
    spoil(run.scene);
    expect(ceiling(run.reports(1))).toBeCloseTo(currentA, 4);
  });
  it('permits nothing more without a meter', () => {
    const run = at(200, 0.03);
    feed(run, { meter: null });
    expect(ceiling(run)).toBe(0);
  });
  it('falls by half of the way with each report, rises by a fifth, and not by ticks', () => {
    const run = at(200, 0.03).reports(1);
    room(run.scene, 0);
    expect(ceiling(run.reports(1))).toBeCloseTo(240, 4);
    expect(ceiling(run.tick(25))).toBeCloseTo(240, 4);
    expect(ceiling(run.reports(1))).toBeCloseTo(220, 4);
    room(run.scene, 0.03);
    expect(ceiling(run.reports(1))).toBeCloseTo(232, 4);
  });
  it('moves with a report of any raft', () => {
    const run = at(200, 0.03).reports(1);
    for (const i of [1, 2, 4]) run.scene.frozen.add(`raft${i}`);
    room(run.scene, 0);
    expect(ceiling(run.reports(1))).toBeCloseTo(240, 4);
    run.scene.frozen.add('raft3');
    expect(ceiling(run.reports(1))).toBeCloseTo(240, 4);
  });
  it('begins anew with each session', () => {
    const run = at(200, 0.03).reports(1);
    run.scene.enter('opening');
    expect(run.reports(1).last).toMatchObject({ findings: [] });
    expect(run.last.limits).toBeUndefined();
    room(run.scene, 0).enter('joining-train');
    expect(ceiling(run.reports(1))).toBeCloseTo(200, 4);
  });
  it.each(['joining-train', 'closing', 'ramping', 'ramping-down', 'tripped-ramping-down'] as Phase[])(
    'is told while %s',
    (phase) => expect(ceiling(at(200, 0, phase).reports(1))).toBeCloseTo(200, 4),
  );
  it.each(['parked', 'checking-isolation', 'opening', 'making-safe'] as Phase[])(
    'is not while %s',
    (phase) => {
      expect(at(200, 0, phase).reports(1).last.limits).toBeUndefined();
    },
  );
});

describe('shares', () => {
  it('follow by three tenths of the way', () => {
    const run = at(200, 0.3).reports(1);
    split(run.scene, 80, 40);
    expect(run.reports(1).limit('raft-1')).toBeCloseTo(120 / 0.295, 6);
    expect(run.tick(25).limit('raft-1')).toBeCloseTo(120 / 0.295, 6);
    expect(run.reports(1).limit('raft-1')).toBeCloseTo(120 / (0.295 + 0.3 * 0.105), 6);
  });
  it('of a raft that comes are taken as they are', () => {
    const run = at(150, 0.3);
    Object.assign(run.scene.rafts[3]!, { joined: 0 });
    split(run.scene, 50, 50);
    run.reports(3);
    expect(run.limit('raft-1')).toBeCloseTo(360, 6);
    expect(run.limit('raft-4')).toBeNaN();
    run.scene.rafts[3]!.joined = 1;
    expect(run.reports(1).limit('raft-4')).toBeCloseTo(480, 6);
  });
});

describe('no raft', () => {
  it('permits nothing, where no battery is on the bus', () => {
    const scene = warm(100, 'holding', new Scene(generatorYard));
    for (const r of scene.rafts.slice(0, 3)) r.joined = 0;
    const run = new Run(batteryWindow, scene).reports(1);
    expect(run.last.limits).toEqual([{ limit: 'no raft on the bus', currentA: 0 }]);
  });
});

/** Reports until the taper is proven, of at most forty; 0 when it is not. */
function taperIn(run: Run<unknown>): number {
  for (let k = 1; k <= 40; k++) if (run.reports(1).proofs.includes('tapering')) return k;
  return 0;
}

describe('binding', () => {
  const bound = (currentA: number, leastLimitA: number, phase: Phase = 'holding') => {
    const run = at(currentA, 0, phase) as Run<unknown>;
    run.scene.governed.leastLimitA = leastLimitA;
    return run;
  };
  // The ceiling stands at what flows. 98 % of 300 A is no taper: there the rating governs.
  it.each([
    ['at the least limit', 200, 200, 20],
    ['half an ampere above it', 200, 199.5, 20],
    ['further above it', 200, 199.4, 0],
    ['at 98 % of the rating', 294, 300, 0],
    ['below that', 293.9, 300, 20],
  ])('%s: proven in the twentieth report', (_, currentA, leastLimitA, reports) => {
    expect(taperIn(bound(currentA, leastLimitA))).toBe(reports);
  });
  it.each([
    ['ramping', 20],
    ['holding', 20],
    ['tapering', 20],
    ['closing', 0],
    ['ramping-down', 0],
    ['tripped-ramping-down', 0],
  ] as [Phase, number][])('while %s', (phase, reports) => {
    expect(taperIn(bound(200, 200, phase))).toBe(reports);
  });
  it('counts no ticks, and begins anew after a report that does not bind', () => {
    const run = bound(200, 200).reports(19);
    for (let k = 0; k < 10; k++) run.tick(25);
    expect(run.proofs).toEqual([]);
    run.scene.governed.leastLimitA = 100;
    run.reports(1).scene.governed.leastLimitA = 200;
    expect(taperIn(run)).toBe(20);
  });
  it.each([
    ['held back near its ceiling', { allowedA: 40 }, 160, 20],
    ['held back by heat alone', { allowedA: 60, cellMaxC: 42.5 }, 240, 0],
  ])('by one raft %s', (_, change, leastLimitA, reports) => {
    const run = at(200, 0.04) as Run<unknown>;
    Object.assign(run.scene.rafts[1]!, change);
    run.scene.governed.leastLimitA = leastLimitA;
    expect(taperIn(run)).toBe(reports);
  });
});

/** The end and the report it comes with, of at most 150. */
function endIn(run: Run<unknown>): [string | undefined, number] {
  for (let k = 1; k <= 150; k++) {
    const { end } = run.reports(1).last;
    if (end !== undefined) return [end, k];
  }
  return [undefined, 0];
}
const NEVER = [undefined, 0];

describe('ends', () => {
  const low = (
    currentA: number,
    leastLimitA: number,
    headroomV: number,
    spreadV = 0.01,
    phase: Phase = 'holding',
  ) => {
    const run = new Run(batteryWindow, room(warm(currentA, phase), headroomV, spreadV)) as Run<unknown>;
    run.scene.governed.leastLimitA = leastLimitA;
    return run;
  };
  // End current 10 A. Full: twenty reports of binding, then 2 s. Another limit: 5 s from the first report.
  it.each([
    ['ceiling', 9.9, 9.9, 60],
    [undefined, 10, 10, 0],
  ])('full below the end current: %s at %d A', (end, currentA, leastLimitA, reports) => {
    expect(endIn(low(currentA, leastLimitA, 0))).toEqual([end, reports]);
  });
  it.each([
    ['derated-out', 9.9, 101],
    [undefined, 10, 0],
  ])('another limit below it: %s at %d A', (end, leastLimitA, reports) => {
    expect(endIn(low(5, leastLimitA, 0.3))).toEqual([end, reports]);
  });
  it('starts its time again when the limit was there for a moment', () => {
    const run = low(5, 5, 0.3).reports(100);
    run.scene.governed.leastLimitA = 20;
    run.reports(1).scene.governed.leastLimitA = 5;
    expect(endIn(run)).toEqual(['derated-out', 101]);
  });
  it('does not count what was permitted before the ramp', () => {
    const run = low(5, 5, 0.3, 0.01, 'closing').reports(120);
    run.scene.enter('ramping');
    expect(endIn(run)).toEqual(['derated-out', 101]);
  });
  it('is the battery’s, not another limit’s, while both are below it', () => {
    const run = low(5, 5, 0).reports(59);
    expect(run.last.end).toBeUndefined();
    expect('end' in run.last).toBe(false);
    expect(run.reports(1).last.end).toBe('ceiling');
    // Once there is room again, the other limit's time begins.
    room(run.scene, 0.3);
    expect(endIn(run)).toEqual(['derated-out', 101]);
  });
  it('starts that of a full battery again when a cell sank for a moment', () => {
    const run = low(5, 5, 0).reports(59);
    room(run.scene, 0.3);
    expect(run.reports(1).last.end).toBeUndefined();
    room(run.scene, 0).governed.leastLimitA = 200;
    // It has risen to 165 A, a fifth of the way, and sinks by half each report: below 10 A well before the twentieth.
    expect(endIn(run)).toEqual(['ceiling', 60]);
  });
  it.each([
    ['weakest-cell', 0.0251],
    ['ceiling', 0.0249],
  ])('%s by a quarter of the permitted 0.1 V between its cells: %d V', (end, spreadV) => {
    expect(endIn(low(5, 5, 0, spreadV))[0]).toBe(end);
  });
  it('looks at the raft that stands highest', () => {
    const run = (highSpreadV: number, otherSpreadV: number) => {
      const made = low(5, 5, 0.01, otherSpreadV);
      Object.assign(made.scene.rafts[2]!, {
        cellMaxV: CEILING_V + 0.001,
        cellMinV: CEILING_V + 0.001 - highSpreadV,
      });
      return endIn(made)[0];
    };
    expect(run(0.06, 0.01)).toBe('weakest-cell');
    expect(run(0.01, 0.06)).toBe('ceiling');
  });
  it.each(['closing', 'ramping-down', 'tripped-ramping-down'] as Phase[])('none while %s', (phase) => {
    const run = low(5, 5, 0.3, 0.01, phase);
    Object.assign(run.scene.wish, { targetSoc: 0.1, maxS: 0 });
    expect(endIn(run)).toEqual(NEVER);
  });
});

describe('a raft on the bus that is seen no more', () => {
  const blind = (run: Run<unknown>) => {
    const seen = run.scene.report();
    return feed(run, { rafts: seen.rafts.map((r, i) => (i === 1 ? null : r)), joined: [0, 1, 2, 3] }, seen);
  };
  it('has no limit of its own and reaches no target', () => {
    const run = at(200, 0.3) as Run<unknown>;
    run.scene.wish.targetSoc = 0.1;
    const { limits, end } = blind(run);
    expect(limits?.map((l) => l.limit)).toEqual(['raft-1', 'raft-3', 'raft-4', 'cell ceiling']);
    expect(end).toBeUndefined();
  });
  it('does not hide that the others are full', () => {
    const run = at(5, 0) as Run<unknown>;
    run.scene.governed.leastLimitA = 5;
    run.reports(59);
    expect(blind(run).end).toBe('ceiling');
  });
});

describe('targets', () => {
  const wish = (change: Partial<Scene['wish']>, spoil: (s: Scene) => void = () => {}, currentA = 200) => {
    const run = at(currentA, 0.3);
    Object.assign(run.scene.wish, change);
    spoil(run.scene);
    return run.reports(1).last.end;
  };
  const soc =
    (...values: number[]) =>
    (s: Scene) =>
      s.rafts.forEach((r, i) => {
        r.soc = values[i]!;
      });
  it.each([
    [[0.5, 0.6, 0.7, 0.6], 0.6, 'target'],
    [[0.5, 0.6, 0.7, 0.59], 0.6, undefined],
    [[0.9, 0.9, 0.9, 0.9], Number.NaN, 'ceiling'],
    [[0.9, 0.9, 0.9, 0.89], Number.NaN, undefined],
    [[0.9, 0.9, 0.9, Number.NaN], 0.5, undefined],
  ])('mean of %j for a wish of %d: %s', (values, targetSoc, end) => {
    expect(wish({ targetSoc }, soc(...values))).toBe(end);
  });
  it('means those on the bus, and batteries only', () => {
    const run = at(200, 0.3);
    soc(0.9, 0.7, 0.7, 0.7)(run.scene);
    run.scene.rafts[0]!.joined = 0;
    run.scene.wish.targetSoc = 0.71;
    expect(run.reports(1).last.end).toBeUndefined();
    const scene = room(warm(200, 'holding', new Scene(generatorYard)), 0.3);
    soc(0.8, 0.8, 0.8, Number.NaN)(scene);
    expect(new Run(batteryWindow, scene).reports(1).last.end).toBe('target');
  });
  // 720 V × (200 A)² ÷ (2 × 100 A/s) are 144 kJ, 0.04 kWh, that still flow while the current comes down.
  it.each([
    [4.961, 200, 'target'],
    [4.959, 200, undefined],
    [4.999, -200, undefined],
    [5, -200, 'target'],
  ])('%d kWh of 5 at %d A: %s', (energyKwh, currentA, end) => {
    const energy = (s: Scene) => {
      s.energyToBatteryKwh = energyKwh;
    };
    expect(wish({ targetSoc: Number.NaN, targetEnergyKwh: 5 }, energy, currentA)).toBe(end);
  });
  it.each([
    ['the train’s volts', { train: null }],
    ['the current', { meter: null }],
  ])('counts what was delivered when nothing is known of %s', (_, blind) => {
    const run = at(200, 0.3);
    Object.assign(run.scene.wish, { targetSoc: Number.NaN, targetEnergyKwh: 5 });
    run.scene.energyToBatteryKwh = 4.99;
    expect(feed(run, blind).end).toBeUndefined();
    run.scene.energyToBatteryKwh = 5;
    expect(feed(run, blind).end).toBe('target');
    run.scene.train.trainV = Number.NaN;
    expect(run.reports(1).last.end).toBe('target');
  });
});
