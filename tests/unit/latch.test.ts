/** The trip latch on disk: what sets it, what survives, and that only an acknowledgement clears it (I6). */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { InputError } from '../../src/host/input-error.js';
import { LatchFile } from '../../src/journal/latch.js';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-latch-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Read anew, as the next process would. */
const next = (rig = 'rig') => new LatchFile(folder, rig);

describe('the latch file', () => {
  it('is not made by looking', () => {
    expect(next().latched).toBe(false);
    expect(readdirSync(folder)).toEqual([]);
  });

  it('does not hold after a session that recorded its end', () => {
    const latch = next();
    latch.begin('journal', 1);
    latch.energised();
    latch.end(true, []);
    expect(next().latched).toBe(false);
    expect(next().state.open).toBeNull();
  });

  it('holds after a session that never recorded its end, once something was live', () => {
    const latch = next();
    latch.begin('journal', 1);
    expect(next().latched).toBe(false);
    latch.energised();
    expect(next().latched).toBe(true);
    expect(next().state.open).toMatchObject({ journal: 'journal', energised: true });
  });

  it('holds from the moment of the trip, before anything is known of the end', () => {
    const latch = next();
    latch.begin('journal', 1);
    latch.trip('loop-open', 'holding', 'journal', 2);
    expect(next().latched).toBe(true);
    expect(next().state.trip).toMatchObject({ code: 'loop-open', phase: 'holding', provenDead: null });
  });

  it('keeps the first trip, and what the end proved', () => {
    const latch = next();
    latch.trip('loop-open', 'holding', 'journal', 2);
    latch.trip('over-current', 'ramping', 'later', 3);
    latch.end(false, ['loop-open', 'pole-welded', 'loop-open']);
    expect(next().state.trip).toMatchObject({
      code: 'loop-open',
      journal: 'journal',
      provenDead: false,
      found: ['loop-open', 'pole-welded'],
    });
    expect(next().latched).toBe(true);
  });

  it('is cleared by an acknowledgement only, which keeps the name and what was acknowledged', () => {
    next().trip('loop-open', 'holding', 'journal', 2);
    const later = next();
    later.begin('another', 3);
    later.end(true, []);
    expect(next().latched).toBe(true);
    next().acknowledge('tester', 4, false);
    expect(next().latched).toBe(false);
    expect(next().state).toMatchObject({
      acknowledged: { by: 'tester', wallMs: 4, code: 'loop-open' },
      owedToDevice: { by: 'tester' },
    });
    next().deviceCleared();
    expect(next().state.owedToDevice).toBeNull();
  });

  it('owes the device nothing when the device was there', () => {
    const latch = next();
    latch.begin('journal', 1);
    latch.energised();
    next().acknowledge('tester', 2, true);
    expect(next().state).toMatchObject({
      open: null,
      owedToDevice: null,
      acknowledged: { code: 'unfinished-journal' },
    });
  });

  it('is one per rig', () => {
    next('one').trip('loop-open', 'holding', 'journal', 1);
    expect(next('other').latched).toBe(false);
    expect(next('one').latched).toBe(true);
  });

  it.each([
    ['empty', () => ''],
    ['cut short', (whole: string) => whole.slice(0, whole.length / 2)],
    ['of another version', (whole: string) => whole.replace('"version": 1', '"version": 2')],
    ['without the trip', (whole: string) => whole.replace('"trip"', '"trap"')],
    ['not an object', () => 'null'],
  ])('is never taken for "no latch" when it is %s', (_what, spoil) => {
    const latch = next();
    latch.trip('loop-open', 'holding', 'journal', 1);
    writeFileSync(latch.path, spoil(readFileSync(latch.path, 'utf8')));
    expect(next).toThrow(InputError);
    expect(next).toThrow(/Treat the rig as latched/);
  });

  it('leaves nothing but itself, and an old copy half written does no harm', () => {
    const latch = next();
    writeFileSync(`${latch.path}.new`, '{"version":');
    latch.trip('loop-open', 'holding', 'journal', 1);
    expect(readdirSync(folder)).toEqual(['rig.latch.json']);
    expect(next().latched).toBe(true);
  });
});
