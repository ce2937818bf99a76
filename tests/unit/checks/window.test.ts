/** What rafts and highest cell permit, the taper, and every end of a session. */
import { describe, expect, it } from 'vitest';
import { batteryWindow } from '../../../src/checks/window.js';
import { Run, Scene } from './build.js';

const charging = (currentA = 200) => new Run(batteryWindow, new Scene().charging(currentA)).reports(3);
const atCell =
  (volts: number, spreadV = 0.01) =>
  (s: Scene): void => {
    for (const r of s.rafts) Object.assign(r, { cellMaxV: volts, cellMinV: volts - spreadV });
  };

describe('limits', () => {
  it('gives each raft its allowance over its measured share', () => {
    const run = charging().reports(60, (s) => {
      s.rafts[0]!.packA = 80;
      for (const r of s.rafts.slice(1)) r.packA = 40;
    });
    expect(run.limit('raft-1')).toBeCloseTo(120 / 0.4, 1);
    expect(run.limit('raft-2')).toBeCloseTo(120 / 0.2, 1);
  });
  it('permits nothing while no raft is on the bus', () => {
    const run = charging().reports(1, (s) => {
      for (const r of s.rafts) r.joined = 0;
    });
    expect(run.limit('no raft on the bus')).toBe(0);
    expect(charging().limit('no raft on the bus')).toBeNaN();
  });
  it('assumes equal shares while the current is too small to tell', () => {
    expect(charging(8).limit('raft-3')).toBeCloseTo(480, 6);
  });
  it('follows a raft that allows less, is hot, or cannot be read', () => {
    const less = charging().reports(1, (s) => {
      s.rafts[1]!.allowedA = 30;
    });
    expect(less.limit('raft-2')).toBeCloseTo(120, 0);
    // Half-way between 40 and 45 °C half is left.
    const hot = charging().reports(1, (s) => {
      s.rafts[1]!.cellMaxC = 42.5;
    });
    expect(hot.limit('raft-2')).toBeCloseTo(240, 0);
    expect(
      charging()
        .reports(1, (s) => {
          s.rafts[1]!.allowedA = Number.NaN;
        })
        .limit('raft-2'),
    ).toBe(0);
  });
  it('puts the cell ceiling where the highest cell would meet it', () => {
    const ceilingV = new Scene().rig.battery.raft.ceilingCellV;
    const run = charging().reports(200, atCell(ceilingV - 0.03));
    // 30 mV over (24 + 10 + 8) mΩ ÷ 28 cells beside, a quarter of the current each.
    const expected = 200 + 0.03 / ((0.042 / 28) * 0.25);
    // At 20 °C the cells are a little stiffer than at 25 °C.
    expect(run.limit('cell ceiling') / expected).toBeGreaterThan(0.9);
    expect(run.limit('cell ceiling')).toBeLessThan(expected);
    expect(charging().reports(50, atCell(ceilingV)).limit('cell ceiling')).toBeCloseTo(200, 0);
    expect(
      charging()
        .reports(50, atCell(ceilingV + 0.2))
        .limit('cell ceiling'),
    ).toBeCloseTo(0, 6);
  });
});

describe('taper', () => {
  it('approaches the ceiling without hunting, whatever the lag of the samples', () => {
    // A cell of 3.95 V behind the rig’s resistance; what moves at once is 24 of 42 mΩ.
    const scene = new Scene().charging(250, 'tapering');
    const run = new Run(batteryWindow, scene);
    const ceilingV = scene.rig.battery.raft.ceilingCellV;
    let currentA = 250;
    let slowV = 0;
    let worstV = 0;
    let turns = 0;
    let rising = false;
    for (let k = 0; k < 3000; k++) {
      const perRaft = currentA / 4 / 28;
      slowV += (perRaft * 0.018 - slowV) * 0.01;
      const cellV = ceilingV - 0.05 + perRaft * 0.024 + slowV - 0.02;
      if (k > 100) worstV = Math.max(worstV, cellV);
      run.reports(1, (s) => {
        atCell(cellV)(s);
        s.amps(currentA);
      });
      const next = Math.min(currentA + 1, run.limit('cell ceiling'), 300);
      if (next > currentA !== rising) turns++;
      rising = next > currentA;
      currentA = next;
    }
    expect(worstV).toBeLessThan(ceilingV + 0.005);
    expect(turns).toBeLessThan(10);
  });
  it('is proven when the ceiling is what governs, for about a second', () => {
    const ceilingV = new Scene().rig.battery.raft.ceilingCellV;
    const run = charging().reports(15, (s) => {
      atCell(ceilingV)(s);
      s.governed.leastLimitA = 200;
    });
    expect(run.proofs).toEqual([]);
    expect(run.reports(30).proofs).toEqual(['tapering']);
    // Something else governing is no taper.
    expect(
      run.reports(2, (s) => {
        s.governed.leastLimitA = 100;
      }).proofs,
    ).toEqual([]);
  });
});

describe('ends', () => {
  it('reaches the target by state of charge or by energy', () => {
    expect(charging().last.end).toBeUndefined();
    expect(
      charging().reports(1, (s) =>
        s.rafts.forEach((r) => {
          r.soc = 0.8;
        }),
      ).last.end,
    ).toBe('target');
    const energy = charging();
    Object.assign(energy.scene.wish, { targetSoc: Number.NaN, targetEnergyKwh: 5 });
    expect(energy.reports(1).last.end).toBeUndefined();
    energy.scene.energyToBatteryKwh = 5;
    expect(energy.reports(1).last.end).toBe('target');
  });
  it('stops at the ceiling of the battery whatever was wished', () => {
    const run = charging();
    run.scene.wish.targetSoc = 1;
    expect(
      run.reports(1, (s) =>
        s.rafts.forEach((r) => {
          r.soc = 0.9;
        }),
      ).last.end,
    ).toBe('ceiling');
  });
  it('ends at the deadline', () => {
    const run = charging();
    run.scene.wish.maxS = 600;
    run.scene.sessionMs = 599_999;
    expect(run.reports(1).last.end).toBeUndefined();
    run.scene.sessionMs = 600_000;
    expect(run.reports(1).last.end).toBe('deadline');
  });
  it.each([
    [0.01, 'ceiling'],
    [0.06, 'weakest-cell'],
  ])('ends when the ceiling leaves too little: spread %d V, %s', (spreadV, end) => {
    const ceilingV = new Scene().rig.battery.raft.ceilingCellV;
    const run = charging(8).reports(40, (s) => {
      atCell(ceilingV + 0.003, spreadV)(s);
      s.governed.leastLimitA = 3;
      s.amps(3);
    });
    expect(run.last.end).toBeUndefined();
    expect(run.reports(60).last.end).toBe(end);
  });
  it('is derated out when another limit stays below the end current', () => {
    const run = charging(5).reports(90, (s) => {
      s.governed.leastLimitA = 5;
    });
    expect(run.last.end).toBeUndefined();
    expect(run.reports(15).last.end).toBe('derated-out');
  });
});
