/** A proof on its day: equipment in date or not, exchanged or not, runs missing or not. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SIMULATED_IDENTITY } from '../../../simulators/device.js';
import { dayOf, dayText, isDay, monthsBefore } from '../../../src/host/calendar.js';
import { InputError } from '../../../src/host/input-error.js';
import { calibrationOf, refuseUndated } from '../../../src/prove/calibration.js';
import { junitOf } from '../../../src/prove/junit.js';
import { device, onItsDay, procedure, proof, run, runsOf, step } from './proofs.js';

describe('days', () => {
  it('are those of the calendar, leap years as decreed in 1582', () => {
    for (const day of [19000101, 20000229, 20240229, 20231231, 99991231])
      expect(isDay(day), `${day}`).toBe(true);
    for (const day of [
      0,
      1,
      19000229,
      20230229,
      20230431,
      20231301,
      20230100,
      20230010,
      18991231,
      2023.5,
      Number.NaN,
    ])
      expect(isDay(day), `${day}`).toBe(false);
  });
  it('agree with those of the language, whichever it is', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: Date.UTC(2200, 0, 1) }), (ms) => {
        const date = new Date(ms);
        const day = dayOf(ms);
        expect(day).toBe(date.getUTCFullYear() * 10_000 + (date.getUTCMonth() + 1) * 100 + date.getUTCDate());
        expect(isDay(day)).toBe(true);
      }),
    );
  });
  it('go back by months to the same day, or the last of a shorter month', () => {
    expect(monthsBefore(20240331, 1)).toBe(20240229);
    expect(monthsBefore(20230331, 1)).toBe(20230228);
    expect(monthsBefore(20240229, 12)).toBe(20230228);
    expect(monthsBefore(20240115, 1)).toBe(20231215);
    expect(monthsBefore(20240115, 25)).toBe(20211215);
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 50_000 }), fc.integer({ min: 1, max: 300 }), (days, months) => {
        const day = dayOf(Date.UTC(2000, 0, 1) + days * 86_400_000);
        const before = monthsBefore(day, months);
        expect(isDay(before)).toBe(true);
        expect(before).toBeLessThan(day);
      }),
    );
  });
  it('are shown as such, and what is none as it came', () => {
    expect(dayText(20240229)).toBe('2024-02-29');
    expect(dayText(20230229)).toBe('20230229');
  });
});

describe('a calibration', () => {
  it('is in date up to the very day, expired a day before it', () => {
    expect(calibrationOf(20010304, 20020304, 12)).toBe('in-date');
    expect(calibrationOf(20010303, 20020304, 12)).toBe('expired');
    expect(calibrationOf(20010303, 20020304, 13)).toBe('in-date');
    expect(calibrationOf(20020304, 20020304, 1)).toBe('in-date');
    expect(calibrationOf(20020305, 20020304, 1)).toBe('in-the-future');
    expect(calibrationOf(20020230, 20020304, 1)).toBe('impossible');
  });
  it('that is no day is refused before any run, naming every such device; the simulated one has a day', () => {
    const devices = [
      device({ serial: 'good', calibratedOn: 20020101 }),
      device({ serial: 'absent', calibratedOn: 0 }),
      device({ serial: 'odd', calibratedOn: 20021301 }),
    ];
    let refused: unknown = null;
    try {
      refuseUndated(devices);
    } catch (error) {
      refused = error;
    }
    expect(refused).toBeInstanceOf(InputError);
    const { message } = refused as InputError;
    expect(message).toMatch(/no run was made/);
    expect(message).toMatch(/serial absent, says 0/);
    expect(message).toMatch(/serial odd, says 20021301/);
    expect(message).not.toMatch(/good/);
    expect(() => refuseUndated(devices.slice(0, 1))).not.toThrow();
    expect(() => refuseUndated([SIMULATED_IDENTITY])).not.toThrow();
  });
  it('that expired leaves a proof that passed inconclusive, and one that failed failed', () => {
    const old = { devices: [device({ calibratedOn: 20010303 })] };
    const passed = onItsDay({ runs: runsOf([18], old) });
    expect(proof({ runs: runsOf([18], old) }).verdict).toBe('pass');
    expect(passed.verdict).toBe('inconclusive');
    expect(passed.doubts).toHaveLength(1);
    expect(passed.doubts[0]).toMatch(/EXPIRED.*serial-7.*2001-03-03.*12 months/);
    expect(onItsDay({ runs: runsOf([60], old) }).verdict).toBe('fail');
    expect(onItsDay({ runs: runsOf([18], old), months: 13 }).verdict).toBe('pass');
  });
  it('in the future is harmless of a simulated device only', () => {
    const runs = runsOf([18], { devices: [device({ calibratedOn: 20300101 })] });
    expect(onItsDay({ runs }).verdict).toBe('inconclusive');
    expect(onItsDay({ runs }).doubts[0]).toMatch(/in the future/);
    for (const charger of ['simulated', 'pilot-relay-late']) {
      const of = onItsDay({ runs, header: { charger } });
      expect(of.verdict).toBe('pass');
      expect(of.doubts).toEqual([]);
      expect(of.equipment[0]?.calibration).toBe('in-the-future');
    }
  });
  it('that is no day, found in a record, does not pass either', () => {
    const of = onItsDay({ runs: runsOf([18], { devices: [device({ calibratedOn: 20020230 })] }) });
    expect(of.verdict).toBe('inconclusive');
    expect(of.doubts[0]).toMatch(/20020230, which is no day/);
  });
});

describe('a proof as a whole', () => {
  it('is not passed while runs are missing, whatever those made came to', () => {
    const of = onItsDay({ runs: runsOf([18, 19]), header: { cases: 5 } });
    expect(of.procedures[0]?.verdict).toBe('pass');
    expect(of.verdict).toBe('inconclusive');
    expect(of.doubts).toEqual(['the proof is NOT COMPLETE: 3 of 5 runs were not made']);
  });
  it('is not passed where nothing applied', () => {
    const nothing = procedure([step({ needs: ['shoes'] })]);
    const of = proof({ procedures: [nothing], runs: [] });
    expect(of.procedures[0]?.verdict).toBe('not-applicable');
    expect(of.verdict).toBe('not-applicable');
    expect(onItsDay({ procedures: [nothing], runs: [] }).verdict).toBe('inconclusive');
  });
  it('is not passed when a device was exchanged, changed its firmware or its date between runs', () => {
    const changes = [{ serial: 'serial-8' }, { firmware: '3.2.2' }, { calibratedOn: 20020202 }];
    for (const change of changes) {
      const runs = [run(), run({ index: 1, repeat: 2, devices: [device(change)] })];
      const of = onItsDay({ runs });
      expect(of.equipment).toHaveLength(2);
      expect(of.verdict).toBe('inconclusive');
      expect(of.doubts).toHaveLength(1);
      expect(of.doubts[0]).toMatch(/on port 0 .*serial-7.*\(1 run\), then /);
    }
  });
  it('knows devices by their ports, and one that answers twice in a session as one', () => {
    const two = [device({ port: 1, serial: 'serial-9' }), device(), device()];
    const of = onItsDay({ runs: [run({ devices: two }), run({ index: 1, repeat: 2, devices: two })] });
    expect(of.equipment.map((e) => [e.port, e.serial, e.runs])).toEqual([
      [0, 'serial-7', 2],
      [1, 'serial-9', 2],
    ]);
    expect(of.doubts).toEqual([]);
    expect(of.verdict).toBe('pass');
  });
  it('is not passed when nobody told who was proven', () => {
    const of = onItsDay({ runs: [run({ devices: [] })] });
    expect(of.verdict).toBe('inconclusive');
    expect(of.doubts).toEqual(['no equipment told who it is']);
  });
  it('tells tools that read JUnit files what stands against it', () => {
    const of = onItsDay({ runs: runsOf([18], { devices: [device({ calibratedOn: 20010101 })] }) });
    const xml = junitOf(of, of.doubts);
    expect(xml.match(/<error /g)).toHaveLength(1);
    expect(xml).toContain('calibration EXPIRED');
    expect(junitOf(of, [])).not.toContain('<error ');
  });
});

describe('a figure of a proof', () => {
  const oneOf = (of: ReturnType<typeof proof>) => of.procedures[0]?.steps[0]?.measures[0];
  it('keeps the value and the record of every run, and the one nearest its limit as the worst', () => {
    const m = oneOf(proof({ runs: runsOf([18, 25, 20]) }));
    expect(m?.values).toEqual([
      { repeat: 1, value: 18, n: 500 },
      { repeat: 2, value: 25, n: 501 },
      { repeat: 3, value: 20, n: 502 },
    ]);
    expect(m).toMatchObject({
      worst: 26,
      n: 501,
      journal: 'journals/loop.opened.002.ndjson',
      uncertainty: 1,
    });
  });
  it('counts only the uncertainty on the side of the limit', () => {
    const wide = { ...runsOf([18])[0]?.measures[0], lo: -80, hi: 18.5 } as never;
    expect(oneOf(proof({ runs: [run({ measures: [wide] })] }))).toMatchObject({
      uncertainty: 0.5,
      worst: 18.5,
    });
    const open = { ...(wide as object), hi: null } as never;
    expect(oneOf(proof({ runs: [run({ measures: [open] })] }))).toMatchObject({
      uncertainty: null,
      worst: null,
    });
  });
});
