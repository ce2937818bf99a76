import { describe, expect, it } from 'vitest';
import { crc32c, crcText } from '../../src/link/crc32c.js';

const bytes = (values: number[]): string => String.fromCharCode(...values);

describe('CRC-32C', () => {
  it('gives the published check value', () => {
    expect(crcText(crc32c('123456789'))).toBe('e3069283');
  });

  // RFC 3720, B.4: the example digests, there printed byte-swapped as they stand on the wire.
  it.each([
    ['32 bytes of zero', bytes(new Array(32).fill(0)), '8a9136aa'],
    ['32 bytes of one', bytes(new Array(32).fill(255)), '62a8ab43'],
    ['32 incrementing', bytes(Array.from({ length: 32 }, (_, i) => i)), '46dd794e'],
    ['32 decrementing', bytes(Array.from({ length: 32 }, (_, i) => 31 - i)), '113fdb5c'],
  ])('agrees with RFC 3720 on %s', (_what, text, expected) => {
    expect(crcText(crc32c(text))).toBe(expected);
  });

  it('stops where it is told', () => {
    expect(crc32c('123456789 and more', 9)).toBe(0xe3069283);
    expect(crc32c('')).toBe(0);
  });

  it('sees every burst of up to 32 bits in a frame', () => {
    const frame = '>00000001 1 feed ph:0';
    const right = crc32c(frame);
    for (let at = 0; at < frame.length - 4; at++) {
      for (const change of [1, 0x80, 0x55, 0xff]) {
        const code = frame.charCodeAt(at) ^ change;
        expect(crc32c(frame.slice(0, at) + String.fromCharCode(code) + frame.slice(at + 1))).not.toBe(right);
      }
    }
  });
});
