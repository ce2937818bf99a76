/** A raft that parts under current counts no more in that very step: what the window permits the rafts that stay. */
import { describe, expect, it } from 'vitest';
import { batteryWindow } from '../../../src/checks/window.js';
import { Run, Scene } from './build.js';

/** Ceiling 4.12 V; at 25 °C (24 + 10 + 8) mΩ ÷ 28 cells beside: 1.5 mΩ for all of the current. */
const CEILING_V = 4.12;

function at(currentA: number, headroomV: number) {
  const scene = new Scene().charging(currentA);
  room(scene, headroomV);
  for (const r of scene.rafts) r.cellMinC = 25;
  return new Run(batteryWindow, scene);
}
function room(scene: Scene, headroomV: number): void {
  for (const r of scene.rafts)
    Object.assign(r, { cellMaxV: CEILING_V - headroomV, cellMinV: CEILING_V - headroomV - 0.01 });
}
function carry(scene: Scene, amps: readonly number[]): void {
  for (const [i, packA] of amps.entries()) scene.rafts[i]!.packA = packA;
}
const part = (scene: Scene, raft: number) => Object.assign(scene.rafts[raft]!, { joined: 0, packA: 0 });

/** Bus current the raft that is worst off permits. */
const leastA = <S>(run: Run<S>): number =>
  Math.min(...(run.last.limits ?? []).filter((l) => l.limit !== 'cell ceiling').map((l) => l.currentA));
const ceiling = <S>(run: Run<S>): number => run.limit('cell ceiling');

/** Two of four on the bus; the first, lower in charge, carries nearly all it may. */
function two() {
  const run = at(163, 0.3);
  part(run.scene, 2);
  part(run.scene, 3);
  carry(run.scene, [119.7, 43.3]);
  return run.reports(10);
}

describe('a raft that parts', () => {
  it('leaves the only other one its 120 A, not 120 A over a quarter of the current', () => {
    const run = two();
    expect(leastA(run)).toBeGreaterThan(163);
    part(run.scene, 0);
    carry(run.scene, [0, 83]);
    expect(leastA(run.reports(1))).toBeCloseTo(120, 6);
    expect(leastA(run.reports(1))).toBeCloseTo(120, 6);
  });
  it('does so though the other one has not been heard of since', () => {
    const run = two();
    part(run.scene, 0);
    for (const i of [2, 3, 4]) run.scene.frozen.add(`raft${i}`);
    expect(leastA(run.reports(1))).toBeCloseTo(120, 6);
  });
  it.each([
    ['the one that carried everything', 0, [200, 0, 0, 0], [0, 70, 70, 60]],
    ['the one that carried most', 3, [20, 20, 20, 140], [0, 10, 80, 0]],
    ['one of several unlike', 1, [60, 80, 30, 30], [10, 0, 90, 30]],
    ['one of four alike, in a dip too small to tell', 2, [50, 50, 50, 50], [5, 5, 0, 5]],
  ])('leaves at most what the other three allow together: %s', (_, raft, beforeA, afterA) => {
    const run = at(200, 0.3);
    carry(run.scene, beforeA);
    run.reports(20);
    part(run.scene, raft);
    carry(run.scene, afterA);
    for (let k = 0; k < 40; k++) expect(leastA(run.reports(1))).toBeLessThanOrEqual(360 + 1e-6);
  });
  it('brings the cell ceiling down all the way', () => {
    const run = at(200, 0.03).reports(1);
    expect(ceiling(run)).toBeCloseTo(280, 4);
    part(run.scene, 3);
    run.scene.amps(200);
    // A third instead of a quarter of the current in each: 30 mV are 60 A, not 80 A.
    expect(ceiling(run.reports(1))).toBeCloseTo(260, 4);
  });
  it('brings the cell ceiling up no quicker than ever', () => {
    const run = at(200, 0).reports(1);
    part(run.scene, 3);
    room(run.scene, 0.03);
    run.scene.amps(200);
    // A fifth of the 60 A.
    expect(ceiling(run.reports(1))).toBeCloseTo(212, 4);
  });
});
