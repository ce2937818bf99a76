/** The journal writer: numbering, sealing, group commit. */
import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import type { JournalStore } from '../../../src/host/journal-store.js';
import { FIRST_SEAL, MAX_BLOCK_RECORDS } from '../../../src/journal/format.js';
import { hashOnly, JournalWriter, type Sealer } from '../../../src/journal/writer.js';
import { examine } from './build.js';

/** A store whose syncs end when the test says so. */
function store() {
  const held = { text: '', syncs: [] as ((e: Error | null) => void)[] };
  const it: JournalStore = {
    path: 'memory',
    append: (text) => {
      held.text += text;
    },
    sync: (done) => {
      held.syncs.push(done);
    },
    close: async () => {},
  };
  return { held, it };
}
const writerOn = (it: JournalStore) => {
  const told = { synced: [] as number[], failed: [] as Error[] };
  return {
    told,
    writer: new JournalWriter(
      it,
      (n) => told.synced.push(n),
      (e) => told.failed.push(e),
    ),
  };
};

describe('the journal writer', () => {
  it('numbers records without gaps, and time never falls', () => {
    const { held, it } = store();
    const { writer } = writerOn(it);
    writer.record(100, 'tick', null);
    writer.record(101.5, 'tick', null);
    writer.record(101, 'tick', null);
    writer.flush();
    const lines = held.text
      .trimEnd()
      .split('\n')
      .map((l) => JSON.parse(l));
    expect(lines.map((l) => l.n)).toEqual([0, 1, 2]);
    expect(lines.map((l) => l.t)).toEqual([0, 1_500_000, 1_500_000]);
  });
  it('never throws because its sealer does: the records go on bare, and nothing counts as durable any more', () => {
    const { held, it } = store();
    const synced: number[] = [];
    let seals = 0;
    const failing: Sealer = (previous, block) => {
      if (++seals > 2) throw new Error('the key store is gone');
      return hashOnly(previous, block);
    };
    const writer = new JournalWriter(
      it,
      (n) => synced.push(n),
      () => {},
      failing,
    );
    writer.record(0, 'tick', null);
    writer.requestSync(0);
    held.syncs.shift()?.(null);
    writer.record(1, 'tick', null);
    writer.requestSync(1);
    writer.record(2, 'person', { order: 'stop' });
    // Wanted while another is under way: it comes with the end of that one.
    writer.requestSync(2);
    held.syncs.shift()?.(null);
    expect(writer.failed?.message).toBe('the key store is gone');
    expect(held.syncs).toHaveLength(0);
    expect(synced).toEqual([1, 3]);
    for (let k = 0; k < 2 * MAX_BLOCK_RECORDS; k++) writer.record(3 + k, 'tick', null);
    writer.record(3000, 'end', {});
    writer.requestSync(3000);
    expect(seals).toBe(3);
    const lines = held.text
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(lines.map(({ n }) => n)).toEqual(
      Array.from({ length: 5 + 2 * MAX_BLOCK_RECORDS + 1 }, (_, n) => n),
    );
    expect(lines.at(-1)?.k).toBe('end');
    expect(examine(held.text).chain.faults).toEqual([]);
  });
  it('writes NaN as null, which reads back as unreadable', () => {
    const { held, it } = store();
    const { writer } = writerOn(it);
    writer.record(0, 'finding', { reading: Number.NaN });
    writer.flush();
    expect(JSON.parse(held.text).b).toEqual({ reading: null });
  });
  it('seals a block with SHA-256 over the previous seal and the raw bytes', () => {
    const { held, it } = store();
    const { writer } = writerOn(it);
    writer.record(0, 'tick', null);
    writer.record(1, 'tick', null);
    const first = writer.seal(2);
    writer.record(3, 'tick', null);
    const second = writer.seal(4);
    writer.flush();
    const lines = held.text
      .split('\n')
      .slice(0, -1)
      .map((l) => `${l}\n`);
    const hash = (seal: string, block: string[]) =>
      createHash('sha256')
        .update(seal + block.join(''))
        .digest('hex');
    // The line of the seal itself is covered up to its hash: its own number and time cannot be changed either.
    const opening = (line: string | undefined) => `${(line ?? '').split('"hash":"', 1)[0]}"hash":"`;
    expect(first).toBe(hash(FIRST_SEAL, [...lines.slice(0, 2), opening(lines[2])]));
    expect(second).toBe(hash(first, [...lines.slice(2, 4), opening(lines[4])]));
    expect(JSON.parse(lines[2] as string)).toMatchObject({ k: 'seal', b: { hash: first } });
  });
  it('seals a long block by itself', () => {
    const { held, it } = store();
    const { writer } = writerOn(it);
    for (let i = 0; i < MAX_BLOCK_RECORDS; i++) writer.record(i, 'tick', null);
    writer.flush();
    expect(held.text).toContain('"k":"seal"');
  });
  it('keeps one sync in flight and confirms what was asked meanwhile with the next', () => {
    const { held, it } = store();
    const { told, writer } = writerOn(it);
    const a = writer.record(0, 'order', {});
    writer.requestSync(0);
    const b = writer.record(1, 'order', {});
    writer.requestSync(1);
    expect(held.syncs).toHaveLength(1);
    held.syncs[0]?.(null);
    expect(told.synced.at(-1)).toBeGreaterThanOrEqual(a);
    expect(told.synced.at(-1)).toBeLessThan(b);
    expect(held.syncs).toHaveLength(2);
    held.syncs[1]?.(null);
    expect(told.synced.at(-1)).toBeGreaterThanOrEqual(b);
    expect(writer.lagMs(100)).toBe(0);
  });
  it('tells its lag by the oldest record without confirmation', () => {
    const { held, it } = store();
    const { writer } = writerOn(it);
    writer.record(10, 'tick', null);
    writer.requestSync(20);
    writer.record(30, 'tick', null);
    expect(writer.lagMs(110)).toBe(100);
    held.syncs[0]?.(null);
    expect(writer.lagMs(110)).toBe(80);
  });
  it('tells a failure once and confirms nothing after it', () => {
    const { held, it } = store();
    const { told, writer } = writerOn(it);
    writer.record(0, 'order', {});
    writer.requestSync(0);
    held.syncs[0]?.(new Error('no space'));
    writer.record(1, 'order', {});
    writer.requestSync(1);
    expect(told.failed).toHaveLength(1);
    expect(told.synced).toEqual([]);
    expect(writer.failed?.message).toBe('no space');
  });
});
