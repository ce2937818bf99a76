/** Which findings stand, what changed, and which of several acts. */
import { describe, expect, it } from 'vitest';
import type { Code } from '../../src/checks/catalogue.js';
import { CATALOGUE } from '../../src/checks/catalogue.js';
import type { Finding } from '../../src/checks/check.js';
import { Findings } from '../../src/supervisor/findings.js';

const found = (code: Code, more: Partial<Finding> = {}): Finding => ({
  ...{ code, failing: true, reading: 1, limit: 0, unit: 'A', setting: 'a.b', sinceMs: 100 },
  ...more,
});
const codes = (findings: readonly Finding[]) => findings.map((f) => f.code);

describe('findings', () => {
  it('tells each change once', () => {
    const findings = new Findings();
    expect(codes(findings.take([found('loop-open')]).begun)).toEqual(['loop-open']);
    expect(findings.take([found('loop-open', { reading: 2 })])).toEqual({ begun: [], ended: [] });
    expect(findings.standing[0]?.reading).toBe(2);
    expect(codes(findings.take([found('loop-open', { failing: false })]).ended)).toEqual(['loop-open']);
    expect(findings.standing).toEqual([]);
  });

  it('does not let a code stand that is no longer evaluated', () => {
    const findings = new Findings();
    findings.take([found('loop-open')]);
    expect(codes(findings.take([]).ended)).toEqual(['loop-open']);
    expect(findings.has('loop-open')).toBe(false);
  });

  it('keeps parts of one code apart', () => {
    const findings = new Findings();
    findings.take([found('pole-welded', { part: 'P' }), found('pole-welded', { part: 'N' })]);
    const { ended } = findings.take([found('pole-welded', { part: 'N' })]);
    expect(ended.map((f) => f.part)).toEqual(['P']);
    expect(findings.has('pole-welded')).toBe(true);
  });

  it('lets the most severe act, and among equals the one that failed first', () => {
    // Chosen by their effects, so that the catalogue may change.
    const of = (effect: string): Code =>
      (Object.keys(CATALOGUE) as Code[]).find((c) => CATALOGUE[c].effect === effect) as Code;
    const findings = new Findings();
    findings.take([found(of('note')), found(of('derate')), found(of('refuse'))]);
    expect(findings.acting(0)).toBeNull();
    findings.take([found(of('stop'), { sinceMs: 1 }), found(of('trip-1'), { sinceMs: 2 })]);
    expect(findings.acting(0)?.code).toBe(of('trip-1'));
    findings.take([found(of('trip-1'), { sinceMs: 1 }), found(of('trip-0'), { sinceMs: 9 })]);
    expect(findings.acting(0)?.code).toBe(of('trip-0'));
    findings.take([
      found('over-current', { sinceMs: 5 }),
      found('loop-open', { sinceMs: 3 }),
      found('plug-unlocked', { sinceMs: 3 }),
    ]);
    expect(findings.acting(0)?.code).toBe('loop-open');
  });
});
