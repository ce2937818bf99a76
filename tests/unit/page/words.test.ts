/** Figures as people read them. */
import { describe, expect, it } from 'vitest';
import { against, figure } from '../../../src/page/client/words.js';

describe('figures in words', () => {
  it('give what is rounded to nothing no sign', () => {
    expect(figure(-0.04, 'A')).toBe('0.0 A');
    expect(figure(-0.06, 'A')).toBe('-0.1 A');
    expect(figure(-0.4, 'ms')).toBe('0 ms');
    expect(figure(-10.04, 'V')).toBe('-10.0 V');
  });
  it('tell a current in mA where its limit is small, and both alike', () => {
    const pilot = { reading: 0.00505, limit: 0.004, unit: 'A', setting: '' };
    expect(against(pilot)).toBe('reads 5.05 mA, limit 4.00 mA');
    expect(against({ ...pilot, reading: null })).toBe('reads not read, limit 4.00 mA');
    expect(against({ ...pilot, limit: 300 })).toBe('reads 0.0 A, limit 300.0 A');
    expect(against({ ...pilot, unit: 'V' })).toBe('reads 0.0 V, limit 0.0 V');
  });
});
