/** A journal cut exactly at the end of a line: told as unfinished, never as an invariant broken by what is not there. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Audit } from '../../../src/audit/audit.js';
import { brokenOnRecord, lacksEnd } from '../../../src/audit/verdict.js';
import { exitOfAudit } from '../../../src/cli/audit-file.js';
import { loadScenario } from '../../../src/cli/scenarios-files.js';
import { SOFTWARE } from '../../../src/host/version.js';
import { loadRig } from '../../../src/rig/load.js';
import { recorded } from '../journal/recorded.js';

const FOLDER = path.resolve(import.meta.dirname, '../../data/journals-v1');
const linesOf = (name: string): string[] =>
  readFileSync(path.join(FOLDER, `${name}.ndjson`), 'utf8').split(/(?<=\n)/);

/** Whether a moment is whole does not hang on how it was decided: nothing is decided anew here, for speed. */
function cutBehind(lines: readonly string[], count: number, replay = false) {
  const audit = new Audit({ software: SOFTWARE, replay });
  audit.feed(Buffer.from(lines.slice(0, count).join('')));
  return audit.end();
}

describe('a journal cut at the end of a line', () => {
  it('behind the order that frees the plug, before the proof it rests on is written', () => {
    const lines = linesOf('released-short-top-up');
    const unlock = lines.findIndex((line) => line.includes('"name":"unlock"'));
    expect(lines[unlock]).toContain('"k":"order"');
    expect(lines.slice(unlock + 1, unlock + 4).join('')).toContain('"proven-dead"');
    for (let count = unlock - 2; count < unlock + 8; count++)
      expect(cutBehind(lines, count)).toMatchObject({ row: 'unfinished', invariantsBroken: ['I10'] });
    expect(cutBehind(lines, unlock + 1, true).diverged).toBe(false);
  });
  it('anywhere in a session that tripped', () => {
    const lines = linesOf('tripped-loop-reversed');
    const end = lines.findIndex((line) => line.includes('"k":"end"'));
    expect(end).toBeGreaterThan(50);
    for (let count = 3; count <= end; count++) {
      const { row, invariantsBroken } = cutBehind(lines, count);
      expect(row).toBe('unfinished');
      expect(['', 'I10']).toContain(invariantsBroken.join());
    }
  });
});

describe('a session that tripped because its disk was full', () => {
  it('audits as unfinished: what is there was decided rightly, how it ended is not there', async () => {
    const scenario = loadScenario('journal-full');
    const { text, outcome } = await recorded({ loaded: loadRig(scenario.rig), scenario });
    expect(outcome.trip?.code).toBe('journal-failed');
    expect(text).not.toContain('journal-failed');
    const audit = new Audit({ software: SOFTWARE });
    audit.feed(Buffer.from(text));
    const result = audit.end();
    expect(result).toMatchObject({ row: 'unfinished', intact: true, diverged: false, outcome: null });
    expect(brokenOnRecord(result)).toEqual([]);
    expect(lacksEnd(result)).toBe(true);
    expect(exitOfAudit(result)).toBe(8);
  });
  it('is no cover for a breach that is there, or a decision that differs', () => {
    const open = cutBehind(linesOf('unfinished-while-closing'), 1e6, true);
    expect(exitOfAudit(open)).toBe(8);
    expect(exitOfAudit({ ...open, invariantsBroken: ['I3', 'I10'] })).toBe(6);
    expect(exitOfAudit({ ...open, diverged: true })).toBe(6);
    const whole = cutBehind(linesOf('tripped-loop-reversed'), 1e6);
    expect(exitOfAudit(whole)).toBe(0);
    // With an end on the record I10 is no matter of what is missing.
    expect(exitOfAudit({ ...whole, invariantsBroken: ['I10'] })).toBe(6);
  });
});
