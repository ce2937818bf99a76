/** Silence: of a role, of a port, and a device that acts on its own. */
import { describe, expect, it } from 'vitest';
import { freshness } from '../../../src/checks/freshness.js';
import { Run, Scene } from './build.js';

const start = () => new Run(freshness, new Scene().charging(200)).reports(3);

describe('freshness', () => {
  it('is content with a talking device', () => {
    expect(start().failing).toEqual([]);
  });
  it('names a role whose counter stands while frames go on, after its own deadline', () => {
    const run = start();
    run.scene.frozen.add('meter');
    const { fastReadingMs, periodMs } = run.scene.rig.link;
    run.reports(Math.floor(fastReadingMs / periodMs));
    expect(run.failing).toEqual([]);
    run.reports(1);
    expect(run.failing).toEqual(['reading-stale/meter']);
    expect(run.finding('reading-stale', 'meter').setting).toBe('link.fastReadingMs');
  });
  it('gives a slow role its longer deadline', () => {
    const run = start();
    run.scene.frozen.add('supply');
    run.reports(run.scene.rig.link.slowReadingMs / run.scene.rig.link.periodMs);
    expect(run.failing).toEqual([]);
    run.reports(1);
    expect(run.failing).toEqual(['reading-stale/supply']);
  });
  it('blames the port, not its roles, when nothing arrives', () => {
    const run = start();
    run.scene.portSilentMs[0] = 300;
    expect(run.tick(300).failing).toEqual([]);
    run.scene.portSilentMs[0] = 500;
    expect(run.tick(200).failing).toEqual(['link-silent/charger']);
  });
  it('takes a port that was never heard for silent', () => {
    const run = start();
    run.scene.portSilentMs[0] = Number.POSITIVE_INFINITY;
    expect(run.tick(1).failing).toEqual(['link-silent/charger']);
  });
  it('sees a device make itself safe, but not one that obeys', () => {
    const own = start().reports(1, (s) => {
      s.device[0]!.madeSafe = 1;
    });
    expect(own.failing).toEqual(['device-made-safe/charger']);
    const obeying = start();
    obeying.scene.order('makeSafe');
    obeying.reports(1, (s) => {
      s.device[0]!.madeSafe = 1;
    });
    expect(obeying.failing).toEqual([]);
  });
  it('refuses by the latch of the device while parked', () => {
    const run = new Run(freshness, new Scene()).reports(1, (s) => {
      s.device[0]!.latched = 1;
    });
    expect(run.failing).toEqual(['device-latched/charger']);
  });
});
