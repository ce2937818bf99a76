/** `audit` and `keys` as a person meets them: verdicts, exit codes, and what is got wrong. */
import { readFileSync, statSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { addAudit } from '../../src/cli/audit.js';
import { worseOf } from '../../src/cli/audit-file.js';
import { runHere } from './in-process.js';
import { endAll, loopwarden, ROOT, temporaryFolder } from './process.js';

const TIMEOUT = { timeout: 60_000 };
const GOLDEN = path.join(ROOT, 'tests/data/journals-v1');
const journal = (name: string): string => path.join(GOLDEN, `${name}.ndjson`);
const tripped = journal('tripped-loop-reversed');
const PUBLIC = path.join(GOLDEN, 'key.public.pem');

afterAll(endAll);

const here = (...args: string[]) => runHere(addAudit, 'audit', ...args);

/** A journal with one thing changed. */
function changed(name: string, change: (text: string) => string): string {
  const file = path.join(temporaryFolder(), 'journal.ndjson');
  const before = readFileSync(journal(name), 'utf8');
  const after = change(before);
  expect(after).not.toBe(before);
  writeFileSync(file, after);
  return file;
}

describe('audit', () => {
  it('tells a page of what happened, the verdict first, and the caution above all', TIMEOUT, async () => {
    const { code, stdout, stderr } = await here(tripped, '--key', PUBLIC);
    expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
    expect(stdout.split('\n')[0]).toMatch(/LIVE DC KILLS/);
    expect(stdout).toMatch(/^SOUND \(exit 0\): .*tripped-loop-reversed/m);
    expect(stdout).toMatch(/^first out +loop-reversed \(trip-0\) in proving-presence at/m);
    expect(stdout).toMatch(/^signature +every seal is signed by the key given/m);
    expect(stdout).toMatch(/^invariants +I1 to I12 hold/m);
    expect(stdout).toMatch(/trip +trip-0 by loop-reversed/);
  });
  it('gives machines what it gives people', TIMEOUT, async () => {
    const { code, stdout } = await here(tripped, journal('refused-while-latched'), '--json');
    expect(code).toBe(0);
    const [first, second] = stdout
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(first).toMatchObject({
      intact: true,
      signed: 'not-checked',
      firstOut: { code: 'loop-reversed', reading: expect.any(Number), limit: 0.1, atS: expect.any(Number) },
      invariantsBroken: [],
      events: expect.any(Array),
      margins: expect.any(Array),
      energy: { toBatteryKwh: expect.any(Number) },
    });
    expect(second).toMatchObject({
      firstOut: { code: 'latched' },
      refusals: expect.arrayContaining([expect.objectContaining({ code: 'latched' })]),
    });
  });
  it('exits 5 for a record that is not intact, and names the place', TIMEOUT, async () => {
    const file = changed('tripped-loop-reversed', (text) =>
      text.replace('"order":"start"', '"order":"stopp"'),
    );
    const { code, stdout } = await here(file);
    expect(code).toBe(5);
    expect(stdout).toMatch(/^RECORD NOT INTACT/m);
    expect(stdout).toMatch(/block from byte \d+ to seal \d+: its bytes are not those that were sealed/);
  });
  it('exits 5 when the head noted elsewhere is not there', TIMEOUT, async () => {
    const head = 'ab'.repeat(32);
    const { code, stdout } = await here(tripped, '--head', head);
    expect(code).toBe(5);
    expect(stdout).toMatch(/the tail was cut, or it is another journal/);
  });
  it('exits 8 for a session that has no end: how it ended is not known', TIMEOUT, async () => {
    const { code, stdout } = await here(journal('unfinished-while-closing'));
    expect(code).toBe(8);
    expect(stdout).toMatch(/^UNFINISHED \(exit 8\)/m);
    expect(stdout).toMatch(/^record +unfinished/m);
    expect(stdout).toMatch(/^invariants +the others hold on the record; I10 is open: no end of the session/m);
    expect(stdout).toMatch(/^decisions +decided anew/m);
    expect(stdout).not.toMatch(/broken/);
    expect(stdout).toMatch(/treat the rig as latched/);
  });
  it.each([
    ['a file that is not there', ['none.ndjson'], /none\.ndjson cannot be read: there is no such file/],
    ['a folder', [GOLDEN], /it is a folder, not a file/],
    ['a head of another length', [tripped, '--head', 'abc'], /--head: expected the 64 hexadecimal digits/],
    ['one head for two journals', [tripped, tripped, '--head', '0'.repeat(64)], /one file at a time/],
    [
      'a key that is none',
      [tripped, '--key', tripped],
      /is not a public key; expected an Ed25519 key in PEM/,
    ],
  ])('says in one line: %s', TIMEOUT, async (_, args, pattern) => {
    const { code, stderr, stdout } = await here(...args, '--json');
    expect(code).toBe(2);
    expect(stdout).toBe('');
    expect(stderr).toMatch(pattern);
    expect(stderr).not.toMatch(/^\s+at /m);
  });
  it.each([
    ['nothing in it', '', 'empty'],
    ['something else in it', 'a,b\n1,2\n', 'not-a-journal'],
    ['one byte of noise', '\u0000', 'not-a-journal'],
  ])('takes a file with %s for what it is', TIMEOUT, async (_, text, row) => {
    const file = path.join(temporaryFolder(), 'x.ndjson');
    writeFileSync(file, text);
    const { code, stdout, stderr } = await here(file, '--json');
    expect(stderr).toBe('');
    expect(JSON.parse(stdout)).toMatchObject({ row, diverged: null });
    expect(code).toBe(5);
  });
});

describe('several audits', () => {
  it('exit by the worst of them, whichever comes first', () => {
    for (const [a, b, worst] of [
      [0, 8, 8],
      [8, 6, 6],
      [6, 5, 5],
      [0, 0, 0],
    ] as const) {
      expect(worseOf(a, b)).toBe(worst);
      expect(worseOf(b, a)).toBe(worst);
    }
  });
});

describe('keys', () => {
  it(
    'are made once, the private one for its owner only; a journal signed with it is checked',
    TIMEOUT,
    async () => {
      const folder = temporaryFolder();
      const keys = path.join(folder, 'keys');
      const made = await loopwarden(['keys', 'new', '--out', keys, '--json']);
      expect(made.code).toBe(0);
      const { privateFile, publicFile } = JSON.parse(made.stdout);
      expect(statSync(privateFile).mode & 0o077).toBe(0);
      const again = await loopwarden(['keys', 'new', '--out', keys]);
      expect(again).toMatchObject({
        code: 2,
        stderr: expect.stringMatching(/a file by that name is there already/),
      });
      const out = path.join(folder, 'out');
      const run = await loopwarden([
        'dry-run',
        '--scenario',
        'loop-reversed',
        '--out',
        out,
        '--sign',
        privateFile,
        '--json',
      ]);
      expect(run.code).toBe(3);
      const { journal: file, journalHead } = JSON.parse(run.stdout);
      const sound = await here(file, '--key', publicFile, '--head', journalHead, '--json');
      expect(JSON.parse(sound.stdout)).toMatchObject({
        exit: 0,
        signed: 'valid',
        headMet: true,
        diverged: false,
      });
      const stranger = await here(file, '--key', PUBLIC, '--json');
      expect(JSON.parse(stranger.stdout)).toMatchObject({ exit: 5, signed: 'invalid', row: 'bad-signature' });
      const wrongHalf = await here(file, '--key', privateFile);
      expect(wrongHalf).toMatchObject({
        code: 2,
        stderr: expect.stringMatching(/is a private key; give the public one/),
      });
    },
  );
  it('that are none are refused before anything is opened', TIMEOUT, async () => {
    const out = path.join(temporaryFolder(), 'out');
    const { code, stderr } = await loopwarden(['dry-run', '--out', out, '--sign', PUBLIC, '--json']);
    expect(code).toBe(2);
    expect(stderr).toMatch(/is not a private key/);
  });
});
