/** Charger and cable side by injection: order of asking, settling, verdict, time limit. */
import { describe, expect, it } from 'vitest';
import { isolationDead } from '../../../src/checks/isolation-dead.js';
import { PHASES } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene } from './build.js';

/** A device that obeys the ask with one report of delay and injects into this parallel resistance. */
function measured(parallelOhm: { charger: number; cable: number }, reports: number) {
  const scene = new Scene().enter('checking-isolation');
  const run = new Run(isolationDead, scene);
  const asked: number[] = [];
  let volts = 0;
  run.reports(reports, (s) => {
    const ask = run.last.ask?.point ?? 0;
    if (ask !== s.isolation.point) {
      s.isolation.point = ask;
      s.isolation.injecting = ask === 0 ? 0 : 1;
      volts = 0;
      asked.push(ask);
    }
    const ohm = ask === 1 ? parallelOhm.charger : parallelOhm.cable;
    const { injectionV, injectionOhm, meterOhm } = s.rig.isolation;
    const seenOhm = 1 / (1 / ohm + 2 / meterOhm);
    const restV = (injectionV * seenOhm) / (seenOhm + injectionOhm / 2);
    volts = ask === 0 ? Number.NaN : restV + (volts - restV) * Math.exp(-50 / 20);
    s.isolation.positiveV = volts;
    s.isolation.negativeV = volts;
  });
  return { run, asked };
}

describe('isolation of dead sides', () => {
  it('asks for charger, cable, off, and proves both', () => {
    const { run, asked } = measured({ charger: 1.5e6, cable: 2e6 }, 40);
    expect(asked).toEqual([1, 2, 0]);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['isolation-dead']);
    expect(run.finding('isolation-low', 'charger').reading).toBeCloseTo(0.99 * 1.5e6, -5);
  });
  it('keeps the proof while the train joins, and not after a new session began', () => {
    const { run } = measured({ charger: 1.5e6, cable: 2e6 }, 40);
    run.scene.enter('joining-train');
    expect(run.reports(1).proofs).toEqual(['isolation-dead']);
    run.scene.enter('parked');
    expect(run.reports(1).proofs).toEqual([]);
  });
  it('trips on the side that leaks, and names it', () => {
    const { run } = measured({ charger: 1.5e6, cable: 20e3 }, 40);
    expect(run.failing).toEqual(['isolation-low/cable']);
    expect(run.proofs).toEqual([]);
    expect(run.finding('isolation-low', 'cable').limit).toBe(81_000);
  });
  it('passes only above the limit by its uncertainty', () => {
    expect(measured({ charger: 81_500, cable: 2e6 }, 40).run.failing).toEqual(['isolation-low/charger']);
    expect(measured({ charger: 83_000, cable: 2e6 }, 40).run.failing).toEqual([]);
  });
  it('is unproven, not passed, when the device does not inject or nothing settles in time', () => {
    const scene = new Scene().enter('checking-isolation');
    const run = new Run(isolationDead, scene).reports(99, (s) =>
      Object.assign(s.isolation, { point: 1, injecting: 0 }),
    );
    expect(run.failing).toEqual([]);
    expect(run.reports(5).failing).toEqual(['isolation-unproven/charger']);
    const restless = new Run(isolationDead, new Scene().enter('checking-isolation')).reports(110, (s, k) =>
      Object.assign(s.isolation, { point: 1, injecting: 1, positiveV: 40 + (k % 2), negativeV: 40 }),
    );
    expect(restless.failing).toEqual(['isolation-unproven/charger']);
  });
});

describe('a charge that an earlier session left on the output', () => {
  /** Both poles leak `ohm` each, and stand `apartV` from one another on the side that is asked for. */
  function left(ohm: number, apartV: number, on: number) {
    const run = new Run(isolationDead, new Scene().enter('checking-isolation'));
    return run.reports(40, (s) => {
      const ask = run.last.ask?.point ?? 0;
      const middleV = restV(ohm / 2);
      const halfV = ask === on ? apartV / 2 : 0;
      Object.assign(s.isolation, connected(ask, middleV + halfV, middleV - halfV));
      if (ask === 0) s.isolation.injecting = 0;
    });
  }
  it('leaves the charger side provable', () => {
    expect(left(3e6, 11, 1).proofs).toEqual(['isolation-dead']);
    expect(left(3e6, 40, 1).proofs).toEqual(['isolation-dead']);
    expect(left(3e6, -40, 1).proofs).toEqual(['isolation-dead']);
  });
  it('is never taken for more than it is: with nearly 60 V it reads as a leak', () => {
    expect(left(3e6, 59, 1).failing).toEqual(['isolation-low/charger']);
  });
  it('hides no leak', () => {
    // 80 kΩ in all is below the 81 kΩ of the rig, with any charge.
    for (const apartV of [3, 11, 30, -30]) {
      const { failing } = left(160e3, apartV, 1);
      expect(failing).toEqual(['isolation-low/charger']);
    }
  });
  it('is none on the cable side, which has no such capacitor: it stays unproven there', () => {
    const run = left(3e6, 11, 2);
    expect(run.proofs).toEqual([]);
    expect(run.last.ask?.point).toBe(2);
  });
});

/** Volts at rest of a side of this parallel resistance: 48 V through 100 kΩ a pole, voltmeters of 10 MΩ. */
function restV(parallelOhm: number): number {
  const seenOhm = 1 / (1 / parallelOhm + 2 / 10e6);
  return (48 * seenOhm) / (seenOhm + 50e3);
}
const connected = (point: number, positiveV: number, negativeV = positiveV) => ({
  point,
  injecting: 1,
  positiveV,
  negativeV,
});
const CHARGER = connected(1, restV(1e6));
const CABLE = connected(2, restV(1e6));
const OFF = { point: 0, injecting: 0, positiveV: Number.NaN, negativeV: Number.NaN };

/** A check of this rig fed samples as the device gave them. */
function fed(rig: Rig = depot) {
  const run = new Run(isolationDead, new Scene(rig).enter('checking-isolation'));
  const feed = (reading: object, reports: number) =>
    run.reports(reports, (s) => Object.assign(s.isolation, reading));
  return { run, feed };
}
const found = (run: { last: { findings: readonly { code: string; part?: string }[] } }) =>
  run.last.findings.filter((f) => f.code === 'isolation-low').map((f) => f.part);
const withIsolation = (change: Partial<Rig['isolation']>): Rig => ({
  ...depot,
  isolation: { ...depot.isolation, ...change },
});

describe('the figure', () => {
  it.each([20e3, 100e3, 1e6, 4e6])('of %d Ω is told 1 %% low', (ohm) => {
    const { run, feed } = fed();
    feed(connected(1, restV(ohm)), 4);
    expect(run.finding('isolation-low', 'charger').reading / (0.99 * ohm)).toBeCloseTo(1, 6);
  });
  it('passes exactly at the limit and fails below it, with the time it was found', () => {
    const first = fed();
    first.feed(CHARGER, 4);
    const { reading } = first.run.finding('isolation-low');
    for (const [limitOhm, failing] of [
      [reading, []],
      [reading + 1, ['isolation-low/charger']],
    ] as const) {
      const { run, feed } = fed(withIsolation({ minOhmPerVolt: 1, workingVoltageV: limitOhm }));
      feed(CHARGER, 4);
      expect(run.failing).toEqual(failing);
      const foundMs = run.scene.nowMs;
      feed(CHARGER, 3);
      expect(run.finding('isolation-low')).toMatchObject({
        limit: limitOhm,
        unit: 'ohm',
        setting: 'isolation.minOhmPerVolt',
        sinceMs: failing.length > 0 ? foundMs : run.scene.nowMs,
      });
    }
  });
  it('is zero ohms where a pole shows no volts, and none at all where volts exceed the injection', () => {
    const short = fed();
    short.feed(connected(1, 40, 0), 4);
    expect(short.run.finding('isolation-low', 'charger')).toMatchObject({ failing: true, reading: 0 });
    // 102 % of 48 V: a source to chassis lifts both poles.
    const foreign = fed();
    foreign.feed(connected(1, 49, 49), 20);
    expect(found(foreign.run)).toEqual([]);
    foreign.feed(connected(1, 40), 20);
    expect(found(foreign.run)).toEqual(['charger']);
  });
  it('is that of the lower pole where the higher stands above the injection by a charge on the output', () => {
    const charged = fed();
    charged.feed(connected(1, 49, 40), 4);
    // 40 V behind 100 kΩ from 48 V are 500 kΩ, with a voltmeter of 10 MΩ beside; 1 % for the readings.
    const expected = 0.99 / (8 / (100e3 * 40) - 1 / 10e6);
    expect(charged.run.finding('isolation-low', 'charger').reading).toBeCloseTo(expected, 0);
  });
});

describe('what has settled', () => {
  it('is four samples within 200 ms, and at least 100 ms after connecting', () => {
    const { run, feed } = fed();
    feed(CHARGER, 3);
    expect(found(run)).toEqual([]);
    feed(CHARGER, 1);
    expect(found(run)).toEqual(['charger']);
    for (const [samples, sides] of [
      [10, []],
      [11, ['charger']],
    ] as const) {
      const quick = fed();
      Object.assign(quick.run.scene.isolation, CHARGER);
      quick.run.burst(samples, 10);
      expect(found(quick.run)).toEqual(sides);
    }
    // Reports 70 ms apart leave three in any 200 ms.
    const sparse = fed();
    Object.assign(sparse.run.scene.isolation, CHARGER);
    sparse.run.burst(20, 70);
    expect(found(sparse.run)).toEqual([]);
    const close = fed();
    Object.assign(close.run.scene.isolation, CHARGER);
    close.run.burst(4, 66);
    expect(found(close.run)).toEqual(['charger']);
  });
  it.each(['chargerF', 'cableF'] as const)(
    'waits five time constants of a large %s: 1 µF by 100 kΩ',
    (side) => {
      const network = { ...depot.isolation.network, [side]: 1e-6 };
      const { run, feed } = fed(withIsolation({ network }));
      feed(CHARGER, 500 / depot.link.periodMs);
      expect(found(run)).toEqual([]);
      feed(CHARGER, 1);
      expect(found(run)).toEqual(['charger']);
    },
  );
  it.each([
    // Half a percent of 40 V; 0.15 V where that is more.
    { aroundV: 40, swingV: 0.19, settles: true },
    { aroundV: 40, swingV: 0.21, settles: false },
    { aroundV: 10, swingV: 0.14, settles: true },
    { aroundV: 10, swingV: 0.16, settles: false },
  ])('around $aroundV V with ±$swingV V: $settles', ({ aroundV, swingV, settles }) => {
    for (const pole of ['positiveV', 'negativeV'] as const) {
      const { run, feed } = fed();
      for (let k = 0; k < 8; k++) feed({ ...connected(1, aroundV), [pole]: aroundV + (-1) ** k * swingV }, 1);
      expect(found(run)).toEqual(settles ? ['charger'] : []);
    }
  });
  it('starts anew when the device is elsewhere or does not inject', () => {
    for (const spoilt of [CABLE, { ...CHARGER, injecting: 0 }, { ...CHARGER, point: 3 }]) {
      const { run, feed } = fed();
      feed(CHARGER, 3);
      feed(spoilt, 1);
      feed(CHARGER, 3);
      expect(found(run)).toEqual([]);
      feed(CHARGER, 1);
      expect(found(run)).toEqual(['charger']);
    }
  });
  it('takes nothing from an earlier side into the next, and a repeated sample not at all', () => {
    const { run, feed } = fed();
    feed(CHARGER, 4);
    feed(CABLE, 3);
    expect(found(run)).toEqual(['charger']);
    run.scene.frozen.add('isolation');
    run.reports(5);
    expect(found(run)).toEqual(['charger']);
  });
});

describe('time and order', () => {
  it('gives each side 5 s, the cable side after the charger side', () => {
    const { run, feed } = fed();
    feed(OFF, 100);
    expect(run.failing).toEqual([]);
    expect(run.finding('isolation-unproven')).toMatchObject({
      reading: 5,
      limit: 5,
      unit: 's',
      setting: 'isolation.checkMaxS',
      part: 'charger',
    });
    feed(OFF, 1);
    expect(run.failing).toEqual(['isolation-unproven/charger']);
    feed(CHARGER, 4);
    expect(run.failing).toEqual([]);
    feed(OFF, 95);
    expect(run.failing).toEqual([]);
    expect(run.finding('isolation-unproven')).toMatchObject({ reading: 10, limit: 10, part: 'cable' });
    feed(OFF, 1);
    expect(run.failing).toEqual(['isolation-unproven/cable']);
    feed(CABLE, 4);
    expect(run.failing).toEqual([]);
    feed(OFF, 100);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['isolation-dead']);
  });
  it('disconnects at the first low side and measures no other', () => {
    const { run, feed } = fed();
    expect(feed(OFF, 1).last.ask).toEqual({ point: 1, resistor: 0 });
    feed(connected(1, restV(20e3)), 4);
    expect(run.last.ask).toEqual({ point: 0, resistor: 0 });
    const sound = fed();
    sound.feed(CHARGER, 4);
    expect(sound.run.last.ask).toEqual({ point: 2, resistor: 0 });
    sound.feed(CABLE, 4);
    expect(sound.run.last.ask).toEqual({ point: 0, resistor: 0 });
  });
});

describe('the proof', () => {
  const both = () => {
    const { run, feed } = fed();
    feed(CHARGER, 4);
    feed(CABLE, 4);
    return { run, feed };
  };
  it('waits until the device says that it is off, by a reading that is not old', () => {
    const { run, feed } = both();
    expect(run.proofs).toEqual([]);
    feed(OFF, 1);
    expect(run.proofs).toEqual(['isolation-dead']);
    expect(run.tick(depot.link.slowReadingMs).proofs).toEqual(['isolation-dead']);
    expect(run.tick(1).proofs).toEqual([]);
  });
  it('is not given by one side', () => {
    const { run, feed } = fed();
    feed(CHARGER, 4);
    feed(OFF, 5);
    expect(run.proofs).toEqual([]);
    run.scene.enter('joining-train');
    expect(run.reports(1).proofs).toEqual([]);
  });
  it('is not given without an isolation device', () => {
    const scene = new Scene().enter('checking-isolation');
    let state = isolationDead.initial(depot);
    for (let k = 0; k < 10; k++) {
      const result = isolationDead.run(state, { ...scene.report(), isolation: null }, depot);
      expect([found({ last: result }), result.proofs]).toEqual([[], []]);
      state = result.state;
    }
    const { run } = both();
    const blind = isolationDead.run(run.state, { ...run.scene.report(), isolation: null }, depot);
    expect(blind.proofs).toEqual([]);
  });
  it('outlives its phase until the poles are closed, and no longer', () => {
    const stands = PHASES.filter((phase) => {
      const { run, feed } = both();
      feed(OFF, 1);
      run.scene.enter(phase);
      return run.reports(1).proofs.length > 0;
    });
    expect(stands).toEqual([
      'checking-isolation',
      'joining-train',
      'matching-voltage',
      'pre-charging',
      'closing',
    ]);
  });
  it('of an earlier session is forgotten', () => {
    const { run, feed } = both();
    feed(OFF, 1);
    run.scene.enter('ramping');
    run.reports(1);
    expect(run.state).toEqual(isolationDead.initial(depot));
    run.scene.enter('closing');
    expect(run.reports(1).proofs).toEqual([]);
  });
});
