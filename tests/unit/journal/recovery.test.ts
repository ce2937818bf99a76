/** The recovery table: one test a row, each decided from the bytes alone. */
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { newKeyPair, signingWith, verifierWith } from '../../../src/journal/keys.js';
import { RECOVERY, type RecoveryRow } from '../../../src/journal/recovery.js';
import { hashOnly } from '../../../src/journal/writer.js';
import { examine, journalOf, linesOf, resealed } from './build.js';

const whole = journalOf(5);
const lines = linesOf(whole);
const without = (at: number): string => lines.filter((_, i) => i !== at).join('');
const swapped = (a: number, b: number): string => {
  const out = [...lines];
  [out[a], out[b]] = [lines[b] as string, lines[a] as string];
  return out.join('');
};
const seals = lines.flatMap((line, i) => (line.includes('"k":"seal"') ? [i] : []));

const ROWS: Record<RecoveryRow, readonly [what: string, text: string][]> = {
  empty: [
    ['no byte', ''],
    ['half a header', '{"n":0,"t":0,"k":"hea'],
  ],
  'not-a-journal': [
    ['a file of something else', 'tMs,outPositiveV\n0,0\n'],
    ['a file of something else without a line end', '\u0000\u0001'],
    ['its first line gone', without(0)],
    ['records without a header', lines.slice(1, 4).join('')],
  ],
  'unknown-version': [['version 2', whole.replace('"version":1', '"version":2')]],
  'two-writers': [
    ['a second header', whole + journalOf(1, hashOnly, 'fedcba98')],
    ['numbers that come again behind the last seal', `${whole}${lines[1]}`],
  ],
  'broken-chain': [
    ['a line missing', without(2)],
    ['a whole block missing', [...lines.slice(0, 6), ...lines.slice(9)].join('')],
    [
      'two blocks exchanged',
      [...lines.slice(0, 6), ...lines.slice(9, 12), ...lines.slice(6, 9), ...lines.slice(12)].join(''),
    ],
    ['two lines exchanged', swapped(1, 2)],
    [
      'the hash of a seal changed',
      whole.replace(/("hash":")./, (_, open) => `${open}${whole.includes('"hash":"0') ? '1' : '0'}`),
    ],
  ],
  'bad-block': [
    ['a byte changed inside a block', whole.replace('"n":7,"t":102000000', '"n":7,"t":102000001')],
    ['a line that is no JSON any more', whole.replace('{"n":7', '{n":7')],
  ],
  'bad-signature': [],
  'foreign-records': [
    [
      'a kind nobody writes',
      resealed([...lines.slice(0, 3), lines[3]!.replace('tick', 'tock'), ...lines.slice(4)], hashOnly),
    ],
    [
      'no setup behind the rig',
      resealed(
        lines.map((line) => line.replace('"k":"setup"', '"k":"tick"')),
        hashOnly,
      ),
    ],
    [
      'a second rig',
      resealed(
        lines.map((line) => line.replace('{"n":3,"t":1000000,"k":"tick"', '{"n":3,"t":1000000,"k":"rig"')),
        hashOnly,
      ),
    ],
  ],
  'unsealed-end': [
    ['a record added behind the last seal', `${whole}{"n":20,"t":500000000,"k":"tick","b":null}\n`],
    ['its last seal cut off', lines.slice(0, -1).join('')],
  ],
  'torn-tail': [
    [
      'half a line at the end',
      lines
        .slice(0, (seals[3] as number) + 2)
        .join('')
        .slice(0, -5),
    ],
  ],
  unfinished: [
    ['no end, sealed', lines.slice(0, (seals[3] as number) + 1).join('')],
    ['no end, with records behind the last seal', lines.slice(0, (seals[3] as number) + 2).join('')],
  ],
  clean: [['as written', whole]],
};

describe('the recovery table', () => {
  const cases = Object.entries(ROWS).flatMap(([row, list]) =>
    list.map(([what, text]) => ({ row, what, text })),
  );
  it.each(cases)('$row: $what', ({ row, text }) => {
    expect(examine(text).row).toBe(row);
  });
  it('bad-signature: a chain made anew without the key, or by another', () => {
    const mine = newKeyPair();
    const signing = signingWith(mine.privatePem, 'key');
    const verifier = verifierWith(mine.publicPem, 'key');
    const signed = journalOf(3, signing.sealer);
    expect(examine(signed, { verifier }).row).toBe('clean');
    const changed = linesOf(signed).map((line) => line.replace('"n":6,"t":101000000', '"n":6,"t":101000001'));
    expect(changed.join('')).not.toBe(signed);
    const stranger = signingWith(newKeyPair().privatePem, 'other').sealer;
    for (const sealer of [hashOnly, stranger]) {
      const forged = resealed(changed, sealer);
      expect(examine(forged).row).toBe('clean');
      expect(examine(forged, { verifier }).row).toBe('bad-signature');
    }
  });
  it('covers every row', () => {
    expect(Object.keys(ROWS).sort()).toEqual(Object.keys(RECOVERY).sort());
  });
  it('says the same however the file is cut into pieces', () => {
    for (const { text, row } of cases)
      for (const pieceBytes of [1, 7, 64, 1 << 20])
        expect(examine(text, { pieceBytes }).row, `${row} ${pieceBytes}`).toBe(row);
  });
});

describe('what is kept beside a journal', () => {
  it('shows a tail cut off at a seal, which nothing in the file does', () => {
    const { chain } = examine(whole);
    const cut = lines.slice(0, (seals[3] as number) + 1).join('');
    expect(examine(cut, { head: chain.head }).chain.headMet).toBe(false);
    expect(examine(whole, { head: chain.head }).chain.headMet).toBe(true);
    // Noted in the middle it is met too: what came later is not its matter.
    const early = examine(cut).chain.head;
    expect(examine(whole, { head: early }).chain.headMet).toBe(true);
  });
  it('counts the bytes behind the last seal, for which nothing vouches', () => {
    const open = `${whole}{"n":20,"t":500000000,"k":"tick","b":null}\n`;
    expect(examine(open).chain.unsealedBytes).toBe(43);
    expect(examine(whole).chain.unsealedBytes).toBe(0);
  });
});

describe('the seal', () => {
  it('is SHA-256 as the format says, computed here by hand', () => {
    const [seal = 0] = seals;
    const line = lines[seal] as string;
    const opening = `${line.split('"hash":"', 1)[0]}"hash":"`;
    const byHand = createHash('sha256')
      .update(`${'0'.repeat(64)}${lines.slice(0, seal).join('')}${opening}`)
      .digest('hex');
    expect(JSON.parse(line).b.hash).toBe(byHand);
  });
  it('stands for its own number and time too', () => {
    const last = lines.at(-1) as string;
    expect(examine(whole.replace(last, last.replace('"t":500000000', '"t":500000001'))).row).toBe(
      'bad-block',
    );
  });
  it('takes a signature in its one spelling only', () => {
    const mine = newKeyPair();
    const signed = journalOf(1, signingWith(mine.privatePem, 'key').sealer);
    const verifier = verifierWith(mine.publicPem, 'key');
    const at = signed.lastIndexOf('=="');
    const letter = signed[at - 1] as string;
    const alphabet = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';
    const other = alphabet[
      (alphabet.indexOf(letter) & ~15) + ((alphabet.indexOf(letter) + 1) & 15)
    ] as string;
    const respelt = `${signed.slice(0, at - 1)}${other}${signed.slice(at)}`;
    expect(Buffer.from(respelt.slice(at - 86, at + 2), 'base64')).toEqual(
      Buffer.from(signed.slice(at - 86, at + 2), 'base64'),
    );
    expect(examine(respelt, { verifier }).row).toBe('bad-signature');
  });
  it('is signed as RFC 8032 has it: a general-purpose tool agrees', (ctx) => {
    let version = '';
    try {
      version = execFileSync('openssl', ['version'], { encoding: 'utf8' });
    } catch {
      ctx.skip('no openssl on this machine');
    }
    expect(version).toMatch(/OpenSSL/);
    const mine = newKeyPair();
    const line = linesOf(journalOf(1, signingWith(mine.privatePem, 'key').sealer)).at(-1) as string;
    const { hash, sig } = JSON.parse(line).b;
    const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-seal-'));
    const file = (name: string, bytes: string | Buffer): string => {
      writeFileSync(path.join(folder, name), bytes);
      return path.join(folder, name);
    };
    const key = file('key.pem', mine.publicPem);
    const signature = file('sig', Buffer.from(sig, 'base64'));
    const verify = (text: string): string =>
      execFileSync(
        'openssl',
        [
          'pkeyutl',
          '-verify',
          '-pubin',
          '-inkey',
          key,
          '-rawin',
          '-in',
          file('text', text),
          '-sigfile',
          signature,
        ],
        { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] },
      );
    // The two lines that src/journal/FORMAT.md names.
    expect(verify(`loopwarden-journal seal 1\n${hash}\n`)).toMatch(/Verified Successfully/);
    expect(() => verify(`loopwarden-journal seal 1\n${hash}`)).toThrow();
    rmSync(folder, { recursive: true });
  });
});
