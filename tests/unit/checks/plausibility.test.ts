/** Instruments against each other, with slow readings given their time. */
import { describe, expect, it } from 'vitest';
import { plausibility } from '../../../src/checks/plausibility.js';
import { Run, Scene } from './build.js';
import { feed, feedMany } from './spoil.js';

const holding = () => new Run(plausibility, new Scene().charging(200)).reports(60);

describe('plausibility', () => {
  it('tolerates 5 % between meter and converter, and trips 8 % after its debounce', () => {
    expect(holding().failing).toEqual([]);
    expect(
      holding().reports(20, (s) => {
        s.meter.currentA = 209;
      }).failing,
    ).toEqual([]);
    const run = holding().reports(4, (s) => {
      s.meter.currentA = 216;
    });
    expect(run.failing).toEqual([]);
    expect(run.reports(2).failing).toEqual(['meter-disagrees']);
  });
  it('holds slow rafts against everything the meter showed meanwhile', () => {
    // 100 A/s down: rafts that lag by a second differ by 100 A without anything being wrong.
    const run = holding();
    for (let i = 1; i <= 4; i++) run.scene.frozen.add(`raft${i}`);
    const rafts = run.scene.rafts.map((r) => r.packA);
    run.reports(20, (s, k) => {
      s.amps(200 - 5 * k);
      s.rafts.forEach((r, i) => {
        r.packA = rafts[i]!;
      });
    });
    expect(run.failing).toEqual([]);
  });
  it('finds a sum of rafts that goes elsewhere', () => {
    const run = holding().reports(60, (s) => {
      s.rafts[0]!.packA = 20;
    });
    expect(run.failing).toEqual(['rafts-disagree']);
  });
  it.each([
    [
      'meter and converter',
      (s: Scene) => {
        s.converter.outputV = 730;
      },
    ],
    [
      'output and plug',
      (s: Scene) => {
        s.meter.plugV = 705;
        s.train.trainV = 703;
      },
    ],
    [
      'plug and train',
      (s: Scene) => {
        s.train.trainV = 700;
      },
    ],
    [
      'plug and train',
      (s: Scene) => {
        s.train.trainV = Number.NaN;
      },
    ],
  ])('compares volts: %s', (part, spoil) => {
    const run = holding().reports(8, spoil);
    expect(run.failing).toEqual([`volts-disagree/${part}`]);
  });
  it('allows the drop of a hot cable and its contacts at 300 A', () => {
    const run = new Run(plausibility, new Scene().charging(300)).reports(60, (s) => {
      s.train.trainV = 716;
    });
    expect(run.failing).toEqual([]);
  });
});

/** Failing after 200 ms of it, the fifth report; none when it is not told. */
const told = (currentA: number, spoil: (s: Scene) => void) => {
  const run = new Run(plausibility, new Scene().charging(currentA)).reports(60);
  expect(run.reports(4, spoil).failing).toEqual([]);
  return run.reports(1).failing;
};

describe('how far apart', () => {
  // 5 % of 200 A, at least 3 A; 5 V of voltmeters, 3 V more over closed poles.
  it.each([
    [
      'meter-disagrees',
      200,
      10,
      10.1,
      (s: Scene, by: number) => Object.assign(s.converter, { outputA: 200 + by }),
    ],
    [
      'meter-disagrees',
      200,
      -10,
      -10.1,
      (s: Scene, by: number) => Object.assign(s.converter, { outputA: 200 + by }),
    ],
    [
      'meter-disagrees',
      40,
      3,
      3.1,
      (s: Scene, by: number) => Object.assign(s.converter, { outputA: 40 + by }),
    ],
    [
      'volts-disagree/meter and converter',
      200,
      5,
      5.1,
      (s: Scene, by: number) => Object.assign(s.converter, { outputV: 720 + by }),
    ],
    [
      'volts-disagree/output and plug',
      200,
      8,
      8.1,
      (s: Scene, by: number) => {
        s.meter.plugV = 720 + by;
        s.train.trainV = 720 + by;
      },
    ],
  ])('%s at %d A: %d, not %d', (code, currentA, ok, bad, spoil) => {
    expect(told(currentA, (s) => spoil(s, ok))).toEqual([]);
    expect(told(currentA, (s) => spoil(s, bad))).toEqual([code]);
  });
  it.each([
    // W9: 8.240 mΩ at 20 °C, so 10.507 mΩ at 90 °C; 5 V of voltmeters and 0.1 V for each of two contacts.
    [300, 5 + 0.2 + 300 * 10.507e-3],
    [100, 5 + 0.2 + 100 * 10.507e-3],
  ])('plug and train at %d A: the drop of a hot cable, %d V', (currentA, limitV) => {
    for (const sign of [1, -1]) {
      expect(told(currentA, (s) => Object.assign(s.train, { trainV: 720 + sign * (limitV - 0.01) }))).toEqual(
        [],
      );
      expect(told(currentA, (s) => Object.assign(s.train, { trainV: 720 + sign * (limitV + 0.01) }))).toEqual(
        ['volts-disagree/plug and train'],
      );
    }
  });
  it.each([
    // 5 % of the current, and half of 3 A for each raft on the bus.
    [200, 4, 16],
    [200, 2, 13],
    [40, 1, 4.5],
  ])('rafts at %d A, %d of them on the bus: %d A, for 2 s', (currentA, count, limitA) => {
    const apart = (by: number) => {
      const scene = new Scene().charging(currentA);
      scene.rafts.forEach((r, i) => {
        r.joined = i < count ? 1 : 0;
      });
      const run = new Run(plausibility, scene.amps(currentA)).reports(60);
      scene.rafts[0]!.packA += by;
      expect(run.reports(40).failing).toEqual([]);
      return run.reports(1);
    };
    for (const sign of [1, -1]) {
      expect(apart(sign * limitA).failing).toEqual([]);
      const far = apart(sign * (limitA + 0.1));
      expect(far.failing).toEqual(['rafts-disagree']);
      expect(far.finding('rafts-disagree').limit).toBeCloseTo(limitA, 9);
    }
  });
});

describe('what cannot be read', () => {
  it.each([
    ['meter-disagrees', (s: Scene) => Object.assign(s.converter, { outputA: Number.NaN })],
    ['volts-disagree/meter and converter', (s: Scene) => Object.assign(s.converter, { outputV: Number.NaN })],
    ['volts-disagree/output and plug', (s: Scene) => Object.assign(s.meter, { plugV: Number.NaN })],
  ])('fails: %s', (code, spoil) => {
    expect(told(200, spoil)).toEqual([code]);
  });
  it('fails in one report only: the span of recent ones is not lost by it', () => {
    const run = holding().reports(1, (s) =>
      Object.assign(s.meter, { currentA: Number.NaN, plugV: Number.NaN }),
    );
    Object.assign(run.scene.meter, { currentA: 200, plugV: 720 });
    for (let k = 0; k < 60; k++) expect(run.reports(1).failing).toEqual([]);
  });
  it('fails against rafts and train too when nothing was read for as long as they may be old', () => {
    const run = holding().reports(90, (s) =>
      Object.assign(s.meter, { currentA: Number.NaN, plugV: Number.NaN }),
    );
    expect(run.failing).toEqual([
      'meter-disagrees',
      'rafts-disagree',
      'volts-disagree/output and plug',
      'volts-disagree/plug and train',
    ]);
  });
  it('fails of a raft on the bus that was never seen, and of a train', () => {
    const run = holding();
    const [, ...rest] = run.scene.report().rafts;
    const failing = (change: Parameters<typeof feedMany>[2]) =>
      feedMany(run, 41, change)
        .findings.filter((f) => f.failing)
        .map((f) => f.code);
    expect(failing({ rafts: [null, ...rest] })).toEqual(['rafts-disagree']);
    expect(failing({ train: null })).toEqual(['volts-disagree']);
  });
});

describe('when nothing is said', () => {
  it.each(['meter', 'converter'] as const)('without a %s; it begins anew after that', (role) => {
    const run = holding().reports(4, (s) => Object.assign(s.converter, { outputA: 230 }));
    expect(feed(run, { [role]: null }).findings).toEqual([]);
    expect(run.reports(4).failing).toEqual([]);
    expect(run.reports(1).failing).toEqual(['meter-disagrees']);
  });
  it.each(['closing', 'opening', 'making-safe'] as const)('while %s', (phase) => {
    const run = holding().reports(4, (s) => Object.assign(s.converter, { outputA: 230 }));
    run.scene.enter(phase);
    expect(run.reports(10).last.findings).toEqual([]);
  });
  it.each(['meter', 'converter'] as const)(
    'while a %s stands still over 400 ms; what was counted stays',
    (role) => {
      const run = holding().reports(4, (s) => Object.assign(s.converter, { outputA: 230 }));
      run.scene.frozen.add(role);
      run.scene.tick(350);
      expect(run.tick(50).last.findings).toHaveLength(5);
      expect(run.reports(1).last.findings).toEqual([]);
      run.scene.frozen.delete(role);
      expect(run.reports(1).failing).toEqual(['meter-disagrees']);
    },
  );
});
