/** A journal cut exactly at the end of a line: told as unfinished, never as an invariant broken by what is not there. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Audit } from '../../../src/audit/audit.js';
import { SOFTWARE } from '../../../src/host/version.js';

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
