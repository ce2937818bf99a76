/** `audit --report`: where it is written, what it never writes over, and what it says when it cannot. */
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addAudit } from '../../src/cli/audit.js';
import { journalOf } from '../unit/report-journals.js';
import { runHere } from './in-process.js';

let folder = '';
let journal = '';
let text = '';
const at = (name: string): string => path.join(folder, name);
const audit = (...args: string[]) => runHere(addAudit, 'audit', ...args);

beforeAll(async () => {
  folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-report-'));
  journal = at('journal.ndjson');
  text = await journalOf('restart-while-latched');
  writeFileSync(journal, text);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('audit --report', () => {
  it('replaces what was there, leaves nothing beside it, and says where it is', async () => {
    const out = at('out.html');
    writeFileSync(out, 'an older one');
    const { code, stdout } = await audit(journal, '--report', out);
    expect(code).toBe(0);
    expect(readFileSync(out, 'utf8')).toMatch(/^<!DOCTYPE html>[\s\S]*<\/html>\n$/);
    expect(stdout).toContain(`report        ${out}`);
    expect(readdirSync(folder).filter((name) => name.startsWith('out'))).toEqual(['out.html']);
    expect(readFileSync(journal, 'utf8')).toBe(text);
  });
  it('makes the folder it is asked to write into', async () => {
    const out = at('of/this/week/out.html');
    expect((await audit(journal, '--report', out)).code).toBe(0);
    expect(existsSync(out)).toBe(true);
  });
  it('leaves the output for machines to machines', async () => {
    const { code, stdout } = await audit(journal, '--json', '--report', at('json.html'));
    expect(code).toBe(0);
    expect(JSON.parse(stdout)).toMatchObject({ exit: 0, row: 'clean', eventsLeftOut: 0 });
    expect(existsSync(at('json.html'))).toBe(true);
  });
  it('tells of one journal alone', async () => {
    const { code, stderr } = await audit(journal, journal, '--report', at('two.html'));
    expect(code).toBe(2);
    expect(stderr).toContain('--report tells of one journal');
    expect(existsSync(at('two.html'))).toBe(false);
  });
  it('never writes over the journal, by whatever name', async () => {
    symlinkSync(journal, at('other-name.html'));
    for (const out of [
      journal,
      at('other-name.html'),
      path.join(folder, '..', path.basename(folder), 'journal.ndjson'),
    ]) {
      const { code, stderr } = await audit(journal, '--report', out);
      expect(code).toBe(2);
      expect(stderr).toContain('would write over');
    }
    expect(readFileSync(journal, 'utf8')).toBe(text);
  });
  it('says in one line why it cannot be written', async () => {
    mkdirSync(at('folder.html'));
    for (const [out, why] of [
      [at('folder.html'), 'it is a folder'],
      [path.join(journal, 'out.html'), 'a file by that name is there already'],
    ] as const) {
      const { code, stderr } = await audit(journal, '--report', out);
      expect(code).toBe(2);
      expect(stderr).toContain(why);
      expect(stderr.trim().split('\n')).toHaveLength(1);
    }
  });
  it('is written all the same of a record that is empty, damaged or no journal; the exit says so', async () => {
    const damaged = text.replace('"order":"start"', '"order":"stxrt"');
    for (const [name, bad] of Object.entries({ empty: '', damaged, strange: 'a picture\n' })) {
      const file = at(`${name}.ndjson`);
      writeFileSync(file, bad);
      const { code } = await audit(file, '--report', at(`${name}.html`));
      expect(code, name).toBe(5);
      expect(readFileSync(at(`${name}.html`), 'utf8'), name).toContain('RECORD NOT INTACT');
    }
  });
});
