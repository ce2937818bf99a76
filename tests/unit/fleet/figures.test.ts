/** Figures read from the lines of a journal alone are those the checks decided on in a replay. */
import { beforeAll, describe, expect, it } from 'vitest';
import { Audit, type AuditResult } from '../../../src/audit/audit.js';
import type { SessionFigures } from '../../../src/fleet/figures.js';
import { SessionWatch } from '../../../src/fleet/one.js';
import { SOFTWARE } from '../../../src/host/version.js';
import { type Made, madeJournal } from './build.js';

const WALL_MS = Date.UTC(2031, 2, 3);

function read(text: string, replay: boolean): { result: AuditResult; figures: SessionFigures } {
  const watch = new SessionWatch();
  const audit = new Audit({ software: SOFTWARE, replay, look: (entry) => watch.take(entry) });
  audit.feed(Buffer.from(text));
  return { result: audit.end(), figures: watch.figures.result };
}

describe('the figures of a session', () => {
  let cable: Made;
  let shoes: Made;
  let refused: Made;
  beforeAll(async () => {
    const set = { 'pilot.coreOhm': 12 };
    cable = await madeJournal({ base: 'depot-cable', seed: 3, set, rig: 'a', wallMs: WALL_MS });
    shoes = await madeJournal({ base: 'terminus-shoes', seed: 3, rig: 'b', wallMs: WALL_MS });
    refused = await madeJournal({ base: 'depot-cable', seed: 3, rig: 'a', wallMs: WALL_MS, latched: true });
  }, 60_000);
  it.each(['cable', 'shoes'])('of the isolation are those of its proof: %s', (which) => {
    const { text } = which === 'cable' ? cable : shoes;
    const proof = read(text, true).result.proofs.find((p) => p.proof === 'isolation-dead');
    const proven = (part: string): number | undefined => proof?.figures.find((f) => f.part === part)?.reading;
    const { figures } = read(text, false);
    expect(figures.isolationChargerOhm).toBe(proven('charger'));
    expect(figures.isolationCableOhm).toBe(proven('cable'));
    expect(figures.isolationCableOhm).toBeGreaterThan(1e6);
  });
  it('of the loop are those of its core, within what a window can tell', () => {
    // A count of 1 uA in 8 mA is a quarter of an ohm in two kilohms; three windows are averaged.
    expect(read(cable.text, false).figures.loopSeriesOhm).toBeGreaterThan(11);
    expect(read(cable.text, false).figures.loopSeriesOhm).toBeLessThan(13.5);
    expect(read(cable.text, false).figures.loopLeakageUs).toBeLessThan(5);
    expect(read(shoes.text, false).figures.loopSeriesOhm).toBeNull();
  });
  it('are none where nothing was proven', () => {
    expect(refused.outcome.outcome).toBe('refused');
    expect(Object.values(read(refused.text, false).figures)).toEqual([null, null, null, null]);
  });
  it('need no replay, which is left out only when asked', () => {
    const without = read(cable.text, false).result;
    const whole = read(cable.text, true).result;
    expect(whole).toMatchObject({ diverged: false, notReplayed: null });
    expect(without).toMatchObject({
      diverged: null,
      divergence: null,
      notReplayed: null,
      margins: [],
      proofs: [],
    });
    expect(whole.margins.length).toBeGreaterThan(10);
    // All the rest is the same.
    const { diverged: _, margins: __, proofs: ___, ...rest } = without;
    expect(whole).toMatchObject(rest);
  });
});
