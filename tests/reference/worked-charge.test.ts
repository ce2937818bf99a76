/** The worked examples of pack, ramp, supply and energy; see worked-examples.test.ts for the others. */
import { describe, expect, test } from 'vitest';
import { Cell } from '../../simulators/cell.js';
import { Raft } from '../../simulators/raft.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { dipFloor } from '../../src/rig/generator-class.js';
import { packV } from '../../src/rig/volts.js';
import { Accounts } from '../../src/supervisor/accounts.js';
import { govern, governedSlopeAPerS } from '../../src/supervisor/governor.js';
import { Bench, rigOf } from '../sim/fixture.js';
import { Scene } from '../unit/checks/build.js';
import { loadText, refusal, variant } from '../unit/rig-files.js';
import { reference, type Trust } from './reference.js';

function row(
  quantity: string,
  unit: string,
  ours: () => number,
  value: number,
  source: string,
  trust: Trust,
  tolerance: { share?: number; absolute?: number } = { share: 0.001 },
): void {
  reference({ quantity, unit, ours, reference: () => value, tolerance, source, trust });
}

/** One cell as a raft: flat or straight open-circuit volts, no heat worth speaking of. */
function cell(figures: {
  r0Ohm: number;
  r1Ohm: number;
  slopeV: number;
  capacityAh: number;
  soc: number;
}): Raft {
  const rig = rigOf('depot-cable', ({ battery: { raft } }) => {
    raft.seriesCells = 1;
    raft.parallelCells = 1;
    raft.barsOhm = 0;
    Object.assign(raft.cell, {
      ocv: [
        { soc: 0, v: 3.2 },
        { soc: 0.5, v: 3.2 + figures.slopeV / 2 },
        { soc: 1, v: 3.2 + figures.slopeV },
      ],
      capacityAh: figures.capacityAh,
      r0Ohm: figures.r0Ohm,
      r1Ohm: figures.r1Ohm,
      tau1S: 30,
      r2Ohm: 0,
      heatCapacityJPerK: 1e12,
    });
  });
  const start = { soc: figures.soc, cellC: 25, ambientC: 25, spreadV: 0 };
  return new Raft(rig.battery.raft, 'battery', start, new SeededRandom(1));
}

describe('pack', () => {
  const pair = 'R0 and one R-C pair, algebra';
  const atRest = 3.2;
  const risesMv = (seconds: number): number => {
    const raft = cell({ r0Ohm: 0.4e-3, r1Ohm: 0.6e-3, slopeV: 0, capacityAh: 1e9, soc: 0.5 });
    // The first step carries the current alone: no time has passed for the pair.
    raft.step(1e-9, 100);
    for (let k = 0; k < seconds * 100; k++) raft.step(0.01, 100);
    return 1000 * (raft.packV() - atRest);
  };
  for (const [s, mv] of [
    [0, 40],
    [10, 57.01],
    [30, 77.93],
    [60, 91.88],
    [150, 99.6],
  ] as const)
    row(`W16 100 A step, ${s} s`, 'mV', () => risesMv(s), mv, pair, 'computed');

  const taperS = (left: number): number => {
    const raft = cell({ r0Ohm: 1e-3, r1Ohm: 0, slopeV: 0.9403, capacityAh: 100, soc: 0.5 });
    const heldV = raft.packV() + 0.1;
    const first = (heldV - raft.emfV()) / raft.seriesOhm();
    for (let k = 1; k <= 20_000; k++) {
      raft.step(0.1, (heldV - raft.emfV()) / raft.seriesOhm());
      if ((heldV - raft.emfV()) / raft.seriesOhm() <= left * first) return k / 10;
    }
    return Number.NaN;
  };
  const cv = 'constant voltage on R and a straight open-circuit line, algebra';
  row('W18 taper to 1/e', 's', () => taperS(Math.exp(-1)), 382.9, cv, 'computed');
  row('W18 taper to 5 %', 's', () => taperS(0.05), 1146.9, cv, 'computed');

  const form = 'Chen & Rincón-Mora 2006, as a table in a rig';
  const formed = () =>
    loadText(
      variant(
        'battery:\n  raft:\n    cell:\n      ocv: { exponentialV: -1.031, rate: -35, ' +
          'polynomialV: [3.685, 0.2156, -0.1178, 0.3201] }\n',
      ),
    ).rig.battery.raft.cell;
  for (const [soc, volts] of [
    [0, 2.654],
    [0.1, 3.67457],
    [0.5, 3.80336],
    [0.8, 3.94598],
    [1, 4.1029],
  ] as const) {
    const ours = () => new Cell(formed(), { soc, cellC: 25, ambientC: 25 }).emfV();
    row(`W17 open circuit at ${soc}`, 'V', ours, volts, form, 'published');
  }

  reference({
    quantity: 'twenty modules of 24 V in series',
    unit: 'V',
    ours: () => {
      const bench = new Bench({ rig: rigOf('twenty-modules') });
      bench.join();
      return bench.world.read('train').trainV;
    },
    reference: () => 525,
    tolerance: { absolute: 25 },
    source: '20 modules of 24 V make just over 500 V',
    trust: 'practice',
  });
});

describe('energy', () => {
  /** Reported every half second at a constant 750 V until the given time or energy. */
  const charge = (currentA: number, until: (kwh: number, seconds: number) => boolean) => {
    const scene = new Scene();
    const accounts = new Accounts();
    Object.assign(scene.meter, { currentA, outputV: 750, plugV: 750 });
    for (const raft of scene.rafts) Object.assign(raft, { packV: 750, packA: currentA / scene.rafts.length });
    accounts.take(scene.report(500));
    let seconds = 0;
    while (!until(accounts.energyToBatteryKwh, seconds) && seconds < 2000) {
      accounts.take(scene.report(500));
      seconds += 0.5;
    }
    return { kwh: accounts.energyToBatteryKwh, seconds };
  };
  const fourMinutes = () => charge(1500, (_, seconds) => seconds >= 240 - 1e-6).kwh;
  row('W25 1500 A for 4 min at 750 V', 'kWh', fourMinutes, 75, 'arithmetic', 'practice');
  /** Through shoes into six rafts that hold 750 V to a tenth of a percent whatever flows, as the simulated world integrates it. */
  const simulated = (): number => {
    const rig = rigOf('terminus-shoes', ({ battery: { raft } }) => {
      const v = 750 / raft.seriesCells;
      raft.barsOhm = 1e-4;
      const ocv = [0, 1].map((soc) => ({ soc, v }));
      Object.assign(raft.cell, {
        ocv,
        r0Ohm: 5e-5,
        r1Ohm: 0,
        r2Ohm: 0,
        overSoc: undefined,
        hysteresis: undefined,
      });
    });
    const bench = new Bench({ rig });
    bench.chargeAt(1500);
    bench.go(2000);
    const before = bench.world.summary().energyAtRaftTerminalsKwh;
    bench.go(240_000);
    return bench.world.summary().energyAtRaftTerminalsKwh - before;
  };
  row('W25 the same in the simulated world', 'kWh', simulated, 75, 'arithmetic', 'practice', {
    share: 0.005,
  });
  row(
    'W25 230 kWh at 1500 A',
    's',
    () => charge(1500, (kwh) => kwh >= 230).seconds,
    736,
    'arithmetic',
    'practice',
  );
});

describe('ramp and supply', () => {
  const rig = rigOf('depot-cable', (r) => {
    r.supply.slopeKwPerS = 15;
    r.ramp.upAPerS = 1000;
    r.ramp.downAPerS = 100;
  });
  const limits = (currentA: number) => [{ limit: 'test', currentA }];
  const rampS = (
    fromA: number,
    mode: 'govern' | 'ramp-down',
    mostA: number,
    until: (a: number) => boolean,
  ) => {
    let state = { setpointA: fromA };
    for (let k = 1; k <= 100_000; k++) {
      state = govern(state, mode, limits(mostA), 750, 10, rig).state;
      if (until(state.setpointA)) return k / 100;
    }
    return Number.NaN;
  };
  const arithmetic = 'arithmetic';
  row('W22 15 kW/s at 750 V', 'A/s', () => governedSlopeAPerS(rig, 750), 20, arithmetic, 'computed');
  row(
    'W22 225 kW reached after',
    's',
    () => rampS(0, 'govern', 300, (a) => a >= 300 - 1e-6),
    15,
    arithmetic,
    'computed',
  );
  const iso = 'ISO 8528-5 G3, textbook table';
  const depot = rigOf('depot-cable').supply;
  row('W22 dip floor of a 400 V set', 'V', () => depot.minVoltageV, 340, iso, 'published');
  row('W22 dip floor of a 50 Hz set', 'Hz', () => depot.minFrequencyHz ?? NaN, 46.5, iso, 'published');
  for (const [of, volts, hertz] of [
    ['G1', 300, 42.5],
    ['G2', 320, 45],
    ['G3', 340, 46.5],
  ] as const) {
    const source = `ISO 8528-5 ${of}, textbook table`;
    const floor = () => dipFloor(of, depot.nominalVoltageV, depot.nominalFrequencyHz ?? NaN);
    row(`W22 ${of} of the depot's set`, 'V', () => floor().voltageV, volts, source, 'published');
    row(
      `W22 ${of} of the depot's set, frequency`,
      'Hz',
      () => floor().frequencyHz,
      hertz,
      source,
      'published',
    );
  }
  for (const [fromA, seconds] of [
    [300, 3],
    [1500, 15],
  ] as const) {
    row(
      `W23 release from ${fromA} A at 100 A/s`,
      's',
      () => rampS(fromA, 'ramp-down', fromA, (a) => a <= 1e-6),
      seconds,
      arithmetic,
      'computed',
    );
  }

  test('W20: 900 V is permanent on a 750 V system, 901 V is not (EN 50163, published)', () => {
    const high = (volts: number): string =>
      variant(
        `battery:\n  raft:\n    maxCellV: { value: ${volts / 192}, source: a test }\n` +
          'isolation:\n  workingVoltageV: { value: 950, source: a test }\n',
      );
    expect(packV(loadText(high(900)).rig, 900 / 192)).toBeCloseTo(900, 9);
    expect(refusal(high(901)).message).toContain('a 750 V system permits 900 V');
  });

  test('W20: 500 V is permanent on a 750 V system, 499 V is low (EN 50163, published)', () => {
    const low = (volts: number): string => {
      const v = volts / 192;
      try {
        // Level, so that it stands at this wherever the rig's floor lies.
        const ocv = `[{ soc: 0, v: ${v} }, { soc: 0.9, v: ${v} }, { soc: 1, v: 4.1 }]`;
        loadText(variant(`battery:\n  raft:\n    cell:\n      ocv: ${ocv}\n`));
        return '';
      } catch (error) {
        return error instanceof Error ? error.message : '';
      }
    };
    expect(low(499)).toMatch(/cells at floorSoc .* make 499 V, a 750 V system needs 500 V/);
    expect(low(500.001)).not.toMatch(/a 750 V system needs/);
    expect(low(500.001)).not.toMatch(/ocv/);
  });
});
