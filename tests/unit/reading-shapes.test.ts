/** The literals of the hot path against the dictionary they spell out. */
import { describe, expect, it } from 'vitest';
import { crc32c, crc32cOf, crcText } from '../../src/link/crc32c.js';
import { LineWriter } from '../../src/link/line-writer.js';
import { MAX_LINE_BYTES } from '../../src/link/link.js';
import { SHAPES, type Shape } from '../../src/link/reading-shapes.js';
import { countText, MAX_COUNT, MIN_COUNT } from '../../src/link/scan.js';
import { ROLE_NAMES, ROLES, type Role } from '../../src/rig/roles.js';

describe.each(ROLE_NAMES)('the reading of %s', (role) => {
  const names = ROLES[role].fields.map((f) => f.name);
  const shape = SHAPES[role] as unknown as Shape<Role>;
  const counted = () => {
    let k = 0;
    return { next: () => ++k };
  };

  it('has the fields of the dictionary, in its order', () => {
    const reading = shape.build(counted()) as Record<string, number>;
    expect(Object.keys(reading)).toEqual(names);
    expect(names.map((name) => reading[name])).toEqual(names.map((_, i) => i + 1));
  });

  it('gives its values back in that order', () => {
    expect(shape.values(shape.build(counted()))).toEqual(names.map((_, i) => i + 1));
  });
});

describe('a line writer', () => {
  const written = (count: number): string => {
    const out = new LineWriter();
    out.count(count);
    return out.sealed().split('*')[0] as string;
  };

  it.each([
    0,
    7,
    9,
    10,
    99,
    100,
    65535,
    999999999,
    1000000000,
    2147483648,
    MAX_COUNT,
    -1,
    -10,
    -4711,
    MIN_COUNT,
    Number.NaN,
  ])('writes %s as the language does', (count) => {
    expect(written(count)).toBe(countText(count));
  });

  it('seals with the check over everything before it, and begins anew', () => {
    const out = new LineWriter();
    for (const text of ['first and longer', 'second']) {
      out.clear();
      out.text(text);
      expect(out.sealed()).toBe(`${text}*${crcText(crc32c(text))}`);
    }
  });

  it('refuses what is longer than a line', () => {
    const out = new LineWriter();
    out.text('x'.repeat(MAX_LINE_BYTES - 9));
    expect(out.sealed()).toHaveLength(MAX_LINE_BYTES);
    out.clear();
    out.text('x'.repeat(MAX_LINE_BYTES - 8));
    expect(() => out.sealed()).toThrow(RangeError);
  });

  it('has the published check value over bytes too (RFC 3720)', () => {
    expect(crc32cOf(new TextEncoder().encode('123456789 and more'), 9)).toBe(0xe3069283);
  });
});
