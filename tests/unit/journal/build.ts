/** Small journals in memory, as the writer makes them, and what a reader says of them. */
import { Chain } from '../../../src/journal/chain.js';
import { JOURNAL_FORMAT, JOURNAL_VERSION } from '../../../src/journal/format.js';
import type { Verifier } from '../../../src/journal/keys.js';
import { RecordReader } from '../../../src/journal/reader.js';
import { Outline, type RecoveryRow, rowOf } from '../../../src/journal/recovery.js';
import { JournalWriter, type Sealer } from '../../../src/journal/writer.js';

export const header = {
  format: JOURNAL_FORMAT,
  version: JOURNAL_VERSION,
  ...{ software: 'loopwarden 0', rig: 'none', rigHash: '', machineHash: '', nonce: '0123abcd' },
  ...{ clock: 'virtual', wallMs: 0, by: 'a test', key: null },
};

/** Blocks of two ticks each; the last record is the end, sealed. */
export function journalOf(blocks: number, sealer?: Sealer, nonce = header.nonce): string {
  let text = '';
  const store = {
    path: 'memory',
    append: (more: string) => {
      text += more;
    },
    sync: () => {},
    close: async () => {},
  };
  const writer = new JournalWriter(
    store,
    () => {},
    () => {},
    sealer,
  );
  writer.record(0, 'header', { ...header, nonce });
  writer.record(0, 'rig', {});
  writer.record(0, 'setup', {});
  for (let block = 0; block < blocks; block++) {
    writer.record(100 * block + 1, 'tick', null);
    writer.record(100 * block + 2, 'tick', null);
    writer.seal(100 * block + 3);
  }
  writer.record(100 * blocks, 'end', { outcome: 'released' });
  writer.seal(100 * blocks);
  writer.flush();
  return text;
}

export interface Seen {
  readonly row: RecoveryRow;
  readonly chain: Chain;
  readonly reader: RecordReader;
}

/** Read in pieces of this many bytes. */
export function examine(
  text: string | Buffer,
  { verifier = null as Verifier | null, head = null as string | null, pieceBytes = 1000 } = {},
): Seen {
  const bytes = Buffer.from(text);
  const chain = new Chain(verifier, head);
  const found = new Outline();
  const reader = new RecordReader((record) => found.take(record));
  for (let at = 0; at < bytes.length; at += pieceBytes) {
    chain.feed(bytes.subarray(at, at + pieceBytes));
    reader.feed(bytes.subarray(at, at + pieceBytes));
  }
  reader.end();
  return { row: rowOf(chain, reader, found), chain, reader };
}

export const linesOf = (text: string): string[] =>
  text
    .trimEnd()
    .split('\n')
    .map((line) => `${line}\n`);

/** The same lines under seals made anew, by somebody who has no key but knows the format. */
export function resealed(lines: readonly string[], sealer: Sealer): string {
  let previous = '0'.repeat(64);
  let block: string[] = [];
  const out: string[] = [];
  for (const line of lines) {
    if (!line.includes('"k":"seal"')) {
      block.push(line);
      out.push(line);
      continue;
    }
    const opening = `${line.split('"hash":"', 1)[0]}"hash":"`;
    const seal = sealer(previous, [...block, opening]);
    const made = `${opening}${seal.hash}"${seal.sig === undefined ? '' : `,"sig":"${seal.sig}"`}}}\n`;
    previous = seal.hash;
    block = [made];
    out.push(made);
  }
  return out.join('');
}
