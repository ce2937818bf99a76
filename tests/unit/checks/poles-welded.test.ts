/** Poles whose auxiliary lies: told by volts that do not part, or that hang together where nothing was ever closed. */
import { describe, expect, it } from 'vitest';
import { polesOpen } from '../../../src/checks/poles-open.js';
import { PHASES } from '../../../src/rig/roles.js';
import { depot, Run, Scene } from './build.js';
import { PartialScene } from './partial-scene.js';
import { across, asked, LATE_MS, POLES, proofOf } from './poles.js';

/**
 * A lying auxiliary: how long volts may take to part by 30 V. P: at half the rate of 60 Ω on 8 mF, from the plug's
 * volts. N: 5 MΩ on 60 nF, three times over for leaner leakage, from the pole's volts to chassis.
 */
describe.each([
  { pole: 'P', plugV: 720, plugNegativeV: -360, tauMs: 960, fromV: 720 },
  { pole: 'P', plugV: 200, plugNegativeV: -150, tauMs: 960, fromV: 200 },
  { pole: 'N', plugV: 720, plugNegativeV: -684, tauMs: 900, fromV: 684 },
  { pole: 'N', plugV: 720, plugNegativeV: -100, tauMs: 900, fromV: 100 },
  { pole: 'N', plugV: 720, plugNegativeV: -60, tauMs: 900, fromV: 60 },
] as const)(
  '$pole welded by volts, $plugV V at $plugNegativeV V',
  ({ pole, plugV, plugNegativeV, ...more }) => {
    const dueMs = LATE_MS + more.tauMs * Math.log(more.fromV / (more.fromV - 30));
    const lying = () => {
      const run = asked(pole, plugV, 0, new Scene());
      run.scene.bleeder.outputOn = 1;
      across(run.scene, pole, 0, plugV, plugNegativeV);
      return run.burst(1, 0);
    };
    it('is accused when they should have parted, twice', () => {
      const run = lying().burst(1, Math.floor(dueMs)).burst(1, 1);
      expect(run.failing).toEqual([]);
      // The same sample once more is none.
      expect(run.tick(1).failing).toEqual([]);
      expect(run.burst(1, 1).failing).toEqual([`pole-welded/${pole}`]);
      expect(run.finding('pole-welded', pole)).toMatchObject({
        ...{
          reading: 0,
          limit: 15,
          unit: 'V',
          setting: 'plausibility.voltageV',
          sinceMs: run.scene.nowMs - 2,
        },
      });
      expect(run.proofs).toEqual([]);
    });
    it('is cleared by volts across it', () => {
      const run = lying().burst(1, Math.ceil(dueMs)).burst(1, 1);
      expect(run.reports(1, (s) => across(s, pole, 15, plugV, plugNegativeV)).failing).toEqual([]);
      expect(run.finding('pole-welded', pole).reading).toBeCloseTo(15, 9);
      expect(run.reports(1).proofs).toEqual([proofOf(pole)]);
    });
  },
);

describe('volts that cannot tell', () => {
  const LONG = 100;
  it('accuse no P without its bleeder, and start its time anew when that comes back', () => {
    for (const odd of [0, Number.NaN]) {
      const run = asked('P', 720, 0, new Scene());
      run.scene.bleeder.outputOn = odd;
      expect(run.reports(LONG).failing).toEqual([]);
      run.scene.bleeder.outputOn = 1;
      expect(run.reports(5).failing).toEqual([]);
      expect(run.reports(3).failing).toEqual(['pole-welded/P']);
    }
    const scene = new PartialScene();
    scene.missing.add('bleeder');
    expect(asked('P', 720, 0, scene).reports(LONG).failing).toEqual([]);
  });
  it('accuse no N that is near chassis: less than four times 15 V', () => {
    const run = asked('N', 720, 0, new Scene());
    run.scene.bleeder.outputOn = 1;
    run.reports(LONG, (s) => across(s, 'N', 0, 720, -59.9));
    expect(run.failing).toEqual([]);
  });
  it('accuse no pole while it is ordered closed, nor before make-safe has come to it', () => {
    const scene = new Scene().charging(0);
    scene.bleeder.outputOn = 1;
    const run = new Run(polesOpen, scene).reports(LONG);
    expect(run.failing).toEqual([]);
    scene.enter('making-safe').order('makeSafe', { closedP: false, closedN: false });
    Object.assign(scene.contactor, { closedP: 0, closedN: 0 });
    // P may take its 100 ms and then as long as any: 190 ms, and 41 ms from 720 V.
    expect(run.burst(1, 99).burst(1, 1).burst(1, 230).burst(1, 1).failing).toEqual([]);
    expect(run.burst(1, 1).failing).toEqual(['pole-welded/P']);
  });
  it('leave an accusation standing when what pulled them goes', () => {
    const run = asked('P', 720, 0, new Scene());
    run.scene.bleeder.outputOn = 1;
    expect(run.reports(8).failing).toEqual(['pole-welded/P']);
    run.scene.bleeder.outputOn = 0;
    run.reports(5, (s) => across(s, 'P', 100));
    expect(run.failing).toEqual(['pole-welded/P']);
    expect(run.proofs).toEqual([]);
  });
  it('are no volts at all without a meter', () => {
    const scene = new PartialScene();
    scene.missing.add('meter');
    const run = asked('P', 720, 0, scene).reports(LONG);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual([]);
    expect(run.finding('pole-welded', 'P').reading).toBeNaN();
  });
});

describe.each(POLES)('%s at rest, never ordered closed', (pole, _, key) => {
  /** The train has brought its voltage; one pole of the output stands so far from it, so far from chassis. */
  const rest = (chassisV: number, apartV: number, scene = new Scene().enter('joining-train')) => {
    Object.assign(scene.meter, { plugV: 720, plugPositiveV: 360, plugNegativeV: -360 });
    const [plugKey, outputKey] =
      pole === 'P'
        ? (['plugPositiveV', 'outputPositiveV'] as const)
        : (['plugNegativeV', 'outputNegativeV'] as const);
    scene.meter[outputKey] = chassisV;
    scene.meter[plugKey] = chassisV + apartV;
    return new Run(polesOpen, scene);
  };
  const others = pole === 'P' ? ['open-n'] : ['open-p'];
  it.each([
    [60, 3],
    [-60, -3],
    [360, 0],
  ])('is welded when the output hangs on the plug: %s V to chassis, %s V apart', (chassisV, apartV) => {
    const run = rest(chassisV, apartV).reports(1);
    // One sample accuses nobody, but proves nothing either.
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(others);
    expect(run.reports(1).failing).toEqual([`pole-welded/${pole}`]);
    expect(run.finding('pole-welded', pole)).toMatchObject({
      reading: Math.abs(apartV),
      limit: 15,
      unit: 'V',
    });
    // It stays so, whatever else the session does then.
    run.scene.enter('making-safe').order('makeSafe');
    expect(run.reports(1).failing).toEqual([`pole-welded/${pole}`]);
    expect(run.proofs).toEqual(others);
  });
  it.each([
    [59.9, 0],
    [-360, 3.1],
    [0, 0],
  ])('is open with %s V to chassis and %s V to the plug', (chassisV, apartV) => {
    expect(rest(chassisV, apartV).reports(5).proofs).toEqual(['open-p', 'open-n']);
  });
  it('is asked for volts while the train joins only, and before the converter is enabled', () => {
    for (const phase of PHASES.filter((each) => each !== 'joining-train'))
      expect(rest(360, 0, new Scene().enter(phase)).reports(5).failing, phase).toEqual([]);
    const enabled = new Scene().enter('joining-train').order('converter', { converterEnabled: true });
    expect(rest(360, 0, enabled).reports(5).failing).toEqual([]);
  });
  it('counts no sample of the meter twice', () => {
    const run = rest(360, 0).reports(1);
    run.scene.frozen.add('meter');
    expect(run.reports(5).failing).toEqual([]);
  });
  it('is open by its auxiliary alone, and by nothing when that is not there', () => {
    const scene = new PartialScene();
    scene.missing.add('meter');
    const run = new Run(polesOpen, scene).reports(1);
    expect(run.proofs).toEqual(['open-p', 'open-n']);
    scene.contactor[key] = 1;
    expect(run.reports(1).proofs).toEqual(others);
    // An odd bit makes no pole of it that was ever closed.
    scene.contactor[key] = 0;
    expect(run.reports(1).proofs).toEqual(['open-p', 'open-n']);
    scene.missing.add('contactor');
    expect(run.reports(1).last).toEqual({ state: polesOpen.initial(depot), findings: [] });
  });
});
