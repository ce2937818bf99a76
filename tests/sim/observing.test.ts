/** While a hard-wired protection is proven the supervisor only looks on: for how long, at what current, on what record. */
import { describe, expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { Judge } from '../../src/audit/judge.js';
import { observedText } from '../../src/audit/verdict.js';
import type { Code } from '../../src/checks/catalogue.js';
import { type Finding, wishOf } from '../../src/checks/check.js';
import { InputError } from '../../src/host/input-error.js';
import { SOFTWARE } from '../../src/host/version.js';
import { SOUND, WEAKNESSES } from '../../src/prove/charger.js';
import { loadProcedures } from '../../src/prove/load.js';
import type { Step } from '../../src/prove/procedure.js';
import { runStep } from '../../src/prove/run-step.js';
import { loadRig } from '../../src/rig/load.js';
import { Findings } from '../../src/supervisor/findings.js';
import { lowEnergyA, mayNotObserve } from '../../src/supervisor/observing.js';

const loaded = loadRig('depot-cable');
const OBSERVING = { codes: ['loop-open', 'loop-unclear'] as Code[], forMs: 400 };
const found = (code: Code, sinceMs: number): Finding => ({
  ...{ code, failing: true, reading: 1, limit: 0, unit: 'A', setting: 'a.b', sinceMs },
});

describe('a finding that only observes', () => {
  it('acts when its time is over, and not before', () => {
    const findings = new Findings(OBSERVING);
    expect(findings.take([found('loop-open', 1000)]).begun).toHaveLength(1);
    expect(findings.acting(1399)).toBeNull();
    expect(findings.acting(1400)?.code).toBe('loop-open');
  });

  it('leaves every other to act at once', () => {
    const findings = new Findings(OBSERVING);
    findings.take([found('loop-open', 1000), found('over-current', 1010)]);
    expect(findings.acting(1010)?.code).toBe('over-current');
  });

  it('gains no time by coming and going', () => {
    const findings = new Findings(OBSERVING);
    findings.take([found('loop-open', 1000)]);
    findings.take([]);
    findings.take([found('loop-open', 1350)]);
    expect(findings.acting(1399)).toBeNull();
    expect(findings.acting(1400)?.code).toBe('loop-open');
  });

  it('shares its time with the others: one after the other gains none', () => {
    const findings = new Findings(OBSERVING);
    findings.take([found('loop-open', 1000)]);
    findings.take([found('loop-unclear', 1390)]);
    expect(findings.acting(1400)?.code).toBe('loop-unclear');
  });

  it('acts where the time cannot be told', () => {
    const findings = new Findings(OBSERVING);
    findings.take([found('loop-open', Number.NaN)]);
    expect(findings.acting(1000)?.code).toBe('loop-open');
  });
});

describe('leave to observe', () => {
  const may = (maxCurrentA: number | undefined, forMs = 400) =>
    mayNotObserve(
      { ...OBSERVING, forMs },
      wishOf(maxCurrentA === undefined ? {} : { maxCurrentA }),
      loaded.rig,
    );

  it('is given up to a tenth of the rated current, and for no more than two seconds', () => {
    expect(lowEnergyA(loaded.rig)).toBe(30);
    expect(may(30)).toBeNull();
    expect(may(30.01)).toMatch(/no more than 30 A/);
    expect(may(undefined)).toMatch(/no more than 30 A/);
    expect(may(Number.NaN)).toMatch(/no more than 30 A/);
    for (const forMs of [2001, Number.NaN, 0, -1])
      expect(may(30, forMs), String(forMs)).toMatch(/2000 ms at most/);
  });

  it('is asked for by the session itself, whoever made the procedure', async () => {
    const asked = { ...relayOpened(), wish: { maxCurrentA: 31 } };
    await expect(runStep(asked, loaded, SOUND, 1)).rejects.toThrow(InputError);
  });
});

function relayOpened(): Step {
  const [pilot] = loadProcedures('pilot-loop', loaded);
  return pilot?.procedure.steps.find((s) => s.step === 'relay-opened') as Step;
}

describe('a session that observes', () => {
  const missing = WEAKNESSES['pilot-relay-missing'] as typeof SOUND;
  const brokenIn = (journal: string): string[] => {
    const judge = new Judge();
    judge.text(journal);
    return judge.end().map((b) => `${b.id}: ${b.why}`);
  };

  it('trips late where the relay is missing, never above the low current, and its record stands the audit', async () => {
    const { journal, code } = await runStep(relayOpened(), loaded, missing, 7);
    expect(code).toMatch(/^loop-/);
    const setup = journal
      .split('\n')
      .map((l) => (l === '' ? {} : JSON.parse(l)))
      .find((r) => r.k === 'setup');
    expect(setup.b.observing).toEqual({ codes: relayOpened().observe?.codes, forMs: 400 });
    const trip = journal
      .split('\n')
      .map((l) => (l === '' ? {} : JSON.parse(l)))
      .find((r) => r.k === 'trip');
    expect(trip.b.detectedAfterMs).toBeGreaterThanOrEqual(400);
    expect(trip.b.detectedAfterMs).toBeLessThan(600);
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(Buffer.from(journal));
    const result = audit.end();
    expect(result).toMatchObject({ intact: true, damage: [], diverged: false, invariantsBroken: [] });
    expect(result.extremes.find((e) => e.field === 'meter.currentMaxA')?.most).toBeLessThan(
      1.1 * lowEnergyA(loaded.rig),
    );
    // Whoever reads it later is told: the supervisor was looking on.
    expect(result.observing).toEqual({ codes: relayOpened().observe?.codes, forMs: 400 });
    expect(observedText(result.observing as NonNullable<typeof result.observing>)).toMatch(
      /for 400 ms the supervisor only observed loop-open/,
    );
    // The same record under a setup that gave it less time: nobody may have looked on that long.
    const shorter = journal.replace('"forMs":400', '"forMs":100');
    expect(brokenIn(journal)).toEqual([]);
    expect(brokenIn(shorter).join()).toMatch(/I4: loop-[a-z]+ has only been observed for \d+ ms/);
    // And under one that gave it none at all.
    const none = journal.replace(/,"observing":\{[^}]*\}/, '');
    expect(brokenIn(none).join()).toMatch(/I4: loop-[a-z]+ is found, and its step gives no trip/);
  });
});
