/** Instruments against each other, with slow readings given their time. */
import { describe, expect, it } from 'vitest';
import { plausibility } from '../../../src/checks/plausibility.js';
import { Run, Scene } from './build.js';

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
