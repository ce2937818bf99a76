/** Who holds control: one at a time, handed over in two steps, taken only from somebody who is gone. */
import { describe, expect, it } from 'vitest';
import { AWAY_MS, Control } from '../../../src/page/control.js';

function desk() {
  const away = new Map<string, number>();
  const may = new Set(['Ada', 'Ben', 'Cem']);
  const control = new Control({
    awayMs: (name) => away.get(name) ?? 0,
    mayHold: (name) => may.has(name),
  });
  return { control, away, may };
}

describe('control', () => {
  it('is nobody’s at first, and taken by the first who asks', () => {
    const { control } = desk();
    expect([control.holder, control.isHeldBy('Ada'), control.isHeldBy('')]).toEqual([null, false, false]);
    expect(control.take('Ada')).toBeNull();
    expect(control.holder).toBe('Ada');
    // A second time changes nothing, in any spelling.
    expect(control.take('ADA')).toBeNull();
    expect(control.isHeldBy('ada')).toBe(true);
  });
  it('is not taken from somebody who is there', () => {
    const { control } = desk();
    control.take('Ada');
    expect(control.take('Ben')).toMatch(/Ada holds control.*30 s/);
    expect(control.holder).toBe('Ada');
  });
  it.each([
    [0, false],
    [AWAY_MS - 1, false],
    [AWAY_MS, true],
    [Number.POSITIVE_INFINITY, true],
    // What is no time is no absence.
    [Number.NaN, false],
  ])('is taken from somebody away for %d ms: %s', (awayMs, taken) => {
    const { control, away } = desk();
    control.take('Ada');
    away.set('Ada', awayMs);
    expect(control.take('Ben') === null).toBe(taken);
    expect(control.holder).toBe(taken ? 'Ben' : 'Ada');
  });
  it('is taken at once from somebody whose sign-in ran out', () => {
    const { control, may } = desk();
    control.take('Ada');
    may.delete('Ada');
    expect(control.take('Ben')).toBeNull();
  });
  it('is released only by its holder', () => {
    const { control } = desk();
    expect(control.release('Ada')).toMatch(/nobody holds control/);
    control.take('Ada');
    expect(control.release('Ben')).toMatch(/Ada holds control, not Ben/);
    expect(control.release('Ada')).toBeNull();
    expect(control.holder).toBeNull();
  });
});

describe('an offer', () => {
  it('passes control only once it is accepted, and only to whom it was made', () => {
    const { control } = desk();
    control.take('Ada');
    expect(control.offer('Ada', 'Ben')).toBeNull();
    expect([control.holder, control.offeredTo]).toEqual(['Ada', 'Ben']);
    expect(control.accept('Cem')).toMatch(/not offered to you/);
    expect(control.accept('Ben')).toBeNull();
    expect([control.holder, control.offeredTo]).toEqual(['Ben', null]);
    expect(control.accept('Ben')).toMatch(/not offered/);
  });
  it('is made only by the holder, never to oneself and never to a watcher', () => {
    const { control } = desk();
    expect(control.offer('Ada', 'Ben')).toMatch(/nobody holds control/);
    control.take('Ada');
    expect(control.offer('Ben', 'Cem')).toMatch(/Ada holds control, not Ben/);
    expect(control.offer('Ada', 'ada')).toMatch(/yours already/);
    expect(control.offer('Ada', 'a watcher')).toMatch(/nobody by the name a watcher/);
    expect(control.offeredTo).toBeNull();
  });
  it.each<[string, (c: Control) => void]>([
    ['the holder releases', (c) => c.release('Ada')],
    ['the holder leaves', (c) => c.left('Ada')],
    ['it is made to another', (c) => c.offer('Ada', 'Cem')],
    ['who it was made to leaves', (c) => c.left('BEN')],
    ['the holder takes it back by taking', (c) => c.take('Ada')],
  ])('is void once %s', (_, what) => {
    const { control } = desk();
    control.take('Ada');
    control.offer('Ada', 'Ben');
    what(control);
    const before = control.holder;
    expect(control.accept('Ben')).toMatch(/not offered/);
    expect(control.holder).toBe(before);
  });
});

it('goes back to everybody when its holder leaves, and stays when somebody else does', () => {
  const { control } = desk();
  control.take('Ada');
  control.left('Ben');
  expect(control.holder).toBe('Ada');
  control.left('ada');
  expect(control.holder).toBeNull();
});
