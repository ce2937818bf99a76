/** Routes: the work at the wheels against closed forms, what comes back, how far it goes, and files that cannot be used. */
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { packageRoot, realFiles } from '../../../src/host/files.js';
import { drive, loadsOf } from '../../../src/plan/drive.js';
import { planRoute } from '../../../src/plan/plan-route.js';
import { readPlanning } from '../../../src/plan/planning-file.js';
import { aged, energyBetweenKwh, rangeKmOf, rangeOf } from '../../../src/plan/range.js';
import { ROUTE, type Route, reversed } from '../../../src/plan/route.js';
import { profileOf } from '../../../src/plan/speed-profile.js';
import { loadRig } from '../../../src/rig/load.js';
import { filesOf } from './planning-files.js';

const { rig } = loadRig('terminus-shoes');
const shipped = readPlanning(ROUTE, 'tarnholt-ellary').value;
const KM_A_MILE = 1.609344;
const G = 9.80665;

/** One level section with constant resistance, so that closed forms hold. */
const level = (
  over: Partial<Route['sections'][number]> = {},
  train: Partial<Route['train']> = {},
): Route => ({
  ...shipped,
  from: 'a',
  train: {
    ...shipped.train,
    massKg: 100_000,
    rotatingShare: 0.1,
    auxiliariesKw: 0,
    resistance: { constantN: 5000, linearNPerMps: 0, squareNPerMps2: 0, source: 'test' },
    tractionEfficiencyShare: 1,
    maxTractionKw: 1e6,
    accelerationMPerS2: 0.5,
    brakingMPerS2: 0.5,
    regeneration: { share: 1, cutOffKmh: 0, source: 'test' },
    ...train,
  },
  sections: [{ to: 'b', lengthKm: 5, climbM: 0, topSpeedKmh: 72, stopS: 0, ...over }],
});
const total = <T>(list: readonly T[], pick: (item: T) => number): number =>
  list.reduce((sum, item) => sum + pick(item), 0);

describe('range', () => {
  // Practice, no source: 400 kWh at 40 kWh for ten miles go a hundred miles in theory.
  it('of 400 kWh at 40 kWh for 10 miles is 100 miles', () => {
    expect(rangeKmOf(400, 40 / (10 * KM_A_MILE)) / KM_A_MILE).toBeCloseTo(100, 9);
  });
  it('that can be used lies between floor and ceiling, and shrinks with age', () => {
    const fresh = rangeOf(rig, 1, 4);
    const old = rangeOf(rig, 0.8, 4);
    expect(fresh.belowFloorKwh + fresh.usableKwh + fresh.headroomKwh).toBeCloseTo(fresh.nameplateKwh, 0);
    expect(old.usableKm / fresh.usableKm).toBeCloseTo(0.8, 6);
    expect(old.theoreticalKm).toBe(fresh.theoreticalKm);
    expect(fresh.usableKm).toBeLessThan(fresh.theoreticalKm * (0.9 - 0.15 + 0.02));
  });
  it('of a raft of 192 × 28 cells of 5 Ah is about 100 kWh, as its rig says', () => {
    const one = { ...rig, battery: { ...rig.battery, rafts: rig.battery.rafts.slice(0, 1) } };
    expect(energyBetweenKwh(one, 0, 1)).toBeGreaterThan(97);
    expect(energyBetweenKwh(one, 0, 1)).toBeLessThan(103);
  });
});

describe('the work at the wheels', () => {
  // v²/2a = 400 m to 20 m/s and as much down: traction does friction up to the brakes and makes the speed.
  it('on the level is resistance, and the speed that the brakes take again', () => {
    const pieces = profileOf(level());
    const speedKwh = (0.5 * 110_000 * 20 ** 2) / 3.6e6;
    expect(total(pieces, (p) => p.tractionKwh)).toBeCloseTo((5000 * 4600) / 3.6e6 + speedKwh, 6);
    expect(total(pieces, (p) => p.brakingKwh)).toBeCloseTo(speedKwh - (5000 * 400) / 3.6e6, 6);
    expect(total(pieces, (p) => p.seconds)).toBeCloseTo(4200 / 20 + 2 * 40, 6);
  });
  it('up a hill is that and its height', () => {
    const sum = (climbM: number): number =>
      total(profileOf(level({ climbM })), (p) => p.tractionKwh - p.brakingKwh);
    expect(sum(50) - sum(0)).toBeCloseTo((100_000 * G * 50) / 3.6e6, 6);
  });
  it('by Davis is A + B·v + C·v²: at a steady speed the middle piece shows all three', () => {
    const pieces = profileOf(
      level({}, { resistance: { constantN: 1000, linearNPerMps: 50, squareNPerMps2: 4, source: 'test' } }),
    );
    const middle = pieces[Math.floor(pieces.length / 2)]!;
    expect((middle.tractionKwh * 3.6e6) / 25).toBeCloseTo(1000 + 50 * 20 + 4 * 400, 6);
  });
  it('is conserved on the shipped route, both ways', () => {
    for (const route of [shipped, reversed(shipped)]) {
      const pieces = profileOf(route);
      const climbM = total(route.sections, (s) => s.climbM);
      const left = total(pieces, (p) => p.tractionKwh - p.brakingKwh - p.resistanceKwh);
      expect(left).toBeCloseTo((route.train.massKg * G * climbM) / 3.6e6, 6);
    }
  });
  it('never asks more than the power of the train, and refuses a climb it cannot make', () => {
    const pieces = profileOf(shipped);
    const mostKw = Math.max(...pieces.map((p) => (p.tractionKwh * 3600) / p.seconds));
    expect(mostKw).toBeLessThan(shipped.train.maxTractionKw * 1.05);
    expect(() => profileOf(level({ climbM: 400 }, { maxTractionKw: 1 }))).toThrow(/comes to a stand/);
  });
});

describe('a section of measured energy', () => {
  // Practice, no source: 40 kWh for ten miles.
  it('takes what was measured, auxiliaries included, and what it gives can be stored', () => {
    const ten = { lengthKm: 10 * KM_A_MILE, energyKwhPerKm: 4 / KM_A_MILE, topSpeedKmh: 60 };
    const net = (route: Route): number => {
      const run = drive(rig, loadsOf(route, profileOf(route)), { soc: 0.6, cellC: 20, ambientC: 20 });
      return run.drawnKwh - run.chargedKwh;
    };
    expect(net(level(ten, { auxiliariesKw: 100 }))).toBeCloseTo(40, 6);
    expect(net(level({ ...ten, energyKwhPerKm: -1 }))).toBeCloseTo(-10 * KM_A_MILE, 6);
  });
});

describe('regeneration', () => {
  // Under even braking work goes with the square of the speed: below half of it lies a quarter.
  it('ends at its cut-off', () => {
    const cut = level({}, { regeneration: { share: 1, cutOffKmh: 36, source: 'test' } });
    const pieces = profileOf(cut);
    const above = total(pieces, (p) => p.aboveCutOffKwh) / total(pieces, (p) => p.brakingKwh);
    expect(above).toBeCloseTo(0.75, 3);
  });
  // Practice, no source: down to about 3 mph, about 20 % of what traction takes.
  it('returns about a fifth on the shipped route, where there is room', () => {
    const plan = planRoute(rig, shipped, { socFrom: 0.6, ageing: 1, cellC: 20, ambientC: 20 });
    expect(plan.energy.returnedShare).toBeGreaterThan(0.15);
    expect(plan.energy.returnedShare).toBeLessThan(0.25);
    expect(plan.energy.lostKwh).toBeCloseTo(0, 6);
  });
  it('finds no room at the ceiling, and less current in the cold', () => {
    const down = level({ climbM: -100 }, { brakingMPerS2: 0.3 });
    const loads = loadsOf(down, profileOf(down));
    const run = (soc: number, cellC: number) => drive(rig, loads, { soc, cellC, ambientC: cellC });
    expect(run(0.5, 20).lostKwh).toBeCloseTo(0, 9);
    expect(run(0.9, 20).lostKwh).toBeGreaterThan(5);
    expect(run(0.9, 20).socEnd).toBeLessThanOrEqual(0.9 + 1e-9);
    expect(run(0.5, -5).chargedKwh).toBe(0);
  });
  it('is told of with all its energy: returned and lost are what braking could give', () => {
    const loads = loadsOf(shipped, profileOf(shipped));
    const run = drive(rig, loads, { soc: 0.88, cellC: 20, ambientC: 20 });
    expect(run.lostKwh).toBeGreaterThan(0);
    expect(run.returnedKwh + run.lostKwh).toBeCloseTo(
      total(loads, (l) => l.returnKwh),
      9,
    );
    const usedKwh = total(loads, (l) => l.tractionKwh + l.auxiliariesKwh);
    expect(run.drawnKwh - run.chargedKwh).toBeCloseTo(usedKwh - run.returnedKwh, 6);
  });
});

describe('setting out', () => {
  const wish = { socFrom: 0.8, ageing: 0.9, cellC: 20, ambientC: 20 };
  const plan = planRoute(rig, shipped, wish);
  const old = aged(rig, wish.ageing);
  const loads = loadsOf(shipped, profileOf(shipped));
  const from = (soc: number) => drive(old, loads, { soc, cellC: 20, ambientC: 20 });
  const [first] = plan.setOut;

  it('with the least never crosses the floor, and with a little less does', () => {
    const least = first!.lowestSoc!;
    expect(from(least).lowest.soc).toBeGreaterThanOrEqual(rig.battery.floorSoc);
    expect(from(least - 0.002).lowest.soc).toBeLessThan(rig.battery.floorSoc);
  });
  it('with the most gives nothing away, and with a little more does', () => {
    expect(first!.highestSoc).toBeLessThan(rig.battery.ceilingSoc);
    expect(from(first!.highestSoc).lostKwh).toBeLessThan(0.011);
    expect(from(first!.highestSoc + 0.02).lostKwh).toBeGreaterThan(0.011);
  });
  it('before the descent asks for room', () => {
    const summit = plan.setOut.find((s) => s.from === 'fell-summit')!;
    expect(summit.highestSoc).toBeLessThan(plan.setOut.find((s) => s.from === 'saltmarsh')!.highestSoc);
  });
  it('from too little does not work, and says so', () => {
    const short = planRoute(rig, shipped, { ...wish, socFrom: 0.3 });
    expect(short.feasible).toBe(false);
    expect(short.drive.lowest.soc).toBeLessThan(rig.battery.floorSoc);
  });
  it('above the ceiling is refused', () => {
    expect(() => planRoute(rig, shipped, { ...wish, socFrom: 0.95 })).toThrow(/above the ceiling/);
    expect(() => planRoute(rig, shipped, { ...wish, ageing: 0.1 })).toThrow(/--ageing/);
  });
});

describe('route files', () => {
  const text = realFiles.readText(path.join(packageRoot(), 'config/routes/tarnholt-ellary.yaml'));
  const faultsOf = (changed: string): string => {
    try {
      readPlanning(ROUTE, 'r.yaml', filesOf({ 'r.yaml': changed }));
    } catch (error) {
      return (error as Error).message;
    }
    return '';
  };
  it('say every fault at once, with its line', () => {
    const said = faultsOf(
      text
        .replace('massKg: 92000', 'massTonnes: 92')
        .replace('lengthKm: 5.6', 'lengthMiles: 3.5')
        .replace('climbM: 38', 'climbM: 3800'),
    );
    expect(said).toMatch(/r\.yaml:\d+ {2}train\.massTonnes: unknown key, did you mean massKg \(unit kg\)/);
    expect(said).toMatch(/r\.yaml:\d+ {2}sections\.1\.lengthMiles: unknown key, did you mean lengthKm/);
    expect(said).toMatch(/sections\.0\.climbM: found 3800 m over 4\.2 km/);
    expect(said).toMatch(/\(5 faults\)/);
  });
  it('refuse a height that is most likely in another unit', () => {
    expect(faultsOf(text.replace('climbM: 38', 'climbM: 3800'))).toMatch(/steeper than 10 %/);
  });
  it('the same line the other way and back is the same line', () => {
    expect(reversed(reversed(shipped))).toEqual(shipped);
    expect(
      reversed(shipped)
        .sections.map((s) => s.to)
        .at(-1),
    ).toBe(shipped.from);
  });
});
