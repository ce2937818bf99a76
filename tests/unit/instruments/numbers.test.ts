/** What instruments answer, held against the standards they follow. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { modbusCrc } from '../../../simulators/peers/modbus-module.js';
import { nr3 } from '../../../simulators/peers/scpi-peer.js';
import { fromRegisters, textOf, toRegisters } from '../../../src/instruments/registers.js';
import {
  figureText,
  roundedDown,
  scpiError,
  scpiIdentity,
  scpiNumber,
} from '../../../src/instruments/scpi-number.js';

describe('numeric responses (IEEE 488.2, 8.7.2 to 8.7.4)', () => {
  it.each([
    // NR1
    ['0', 0],
    ['+12', 12],
    ['-7', -7],
    // NR2
    ['750.30', 750.3],
    ['-0.5', -0.5],
    ['.5', 0.5],
    ['12.', 12],
    // NR3
    ['+7.503000E+02', 750.3],
    ['-1.5E-3', -0.0015],
    ['1e2', 100],
    [' 4.00 ', 4],
  ])('%s is %d', (text, value) => {
    expect(scpiNumber(text)).toEqual({ is: 'number', value });
  });

  it.each(['9.9E37', '+9.900000E+37', '-9.9E37', '9.91E37', '9.91E+37', '1E38'])(
    '%s is the mark of an overload, or of no number (SCPI-1999, 7.2.1)',
    (text) => {
      expect(scpiNumber(text)).toEqual({ is: 'overload' });
    },
  );

  it.each([
    ...['', ' ', 'ON', '1,2', '1;2', '1 2', '--1', '1E', 'E5', '0x10', 'NAN', 'INF', '1_0', '١', '1E1000'],
    `1${'0'.repeat(40)}`,
  ])('%j is no number', (text) => {
    expect(scpiNumber(text)).toEqual({ is: 'garbage' });
  });

  it('never throws, and never takes for a number what has no digit', () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        const answer = scpiNumber(text);
        if (answer.is === 'number') expect(text).toMatch(/\d/);
      }),
    );
  });

  it('reads what is written as NR3', () => {
    fc.assert(
      fc.property(fc.double({ min: -1e6, max: 1e6, noNaN: true }), (value) => {
        const answer = scpiNumber(nr3(value));
        expect(answer.is).toBe('number');
        if (answer.is === 'number')
          expect(Math.abs(answer.value - value)).toBeLessThanOrEqual(1e-6 * Math.abs(value) + 1e-300);
      }),
    );
  });
});

describe('other answers', () => {
  it.each([
    ['0,"No error"', 0, 'No error'],
    ['+0,"No error"', 0, 'No error'],
    ['-222,"Data out of range"', -222, 'Data out of range'],
    ['-113, "Undefined header; SOUR"', -113, 'Undefined header; SOUR'],
  ])('%s is an entry of the error queue', (text, number, words) => {
    expect(scpiError(text)).toEqual({ number, text: words });
  });
  it.each(['', '0', 'No error', '7.5,"x"', '-222,Data out of range'])('%j is none', (text) => {
    expect(scpiError(text)).toBeNull();
  });

  it('takes an identity of four fields and no other', () => {
    expect(scpiIdentity('MAKER, DC-1 ,0,1.4')).toEqual({ model: 'DC-1', serial: '0', firmware: '1.4' });
    expect(scpiIdentity('MAKER,DC-1,0')).toBeNull();
    expect(scpiIdentity('MAKER,DC-1,0,1,2')).toBeNull();
  });
});

describe('figures as an instrument is told them', () => {
  it.each([
    [29.999, 0.01, '29.99'],
    // 0.3 is a little less than 3 × 0.1 in binary, and means 0.3.
    [0.3, 0.1, '0.3'],
    [768, 0.1, '768.0'],
    [12.34, 0.05, '12.30'],
    [1e-7, 0.01, '0.00'],
    [299.5, 1, '299'],
  ])('%d in steps of %d: %s', (value, step, text) => {
    expect(figureText(value, step)).toBe(text);
  });

  it('are never more than was decided, by more than the rounding of binary numbers', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1500, noNaN: true }),
        fc.constantFrom(0.001, 0.01, 0.1, 1),
        (v, step) => {
          const down = roundedDown(v, step);
          expect(down).toBeLessThanOrEqual(v + 1.1e-6 * step);
          expect(v - down).toBeLessThan(step * 1.000001);
        },
      ),
    );
  });
});

describe('registers', () => {
  it.each([
    [[0x1234], 'u16', 'high-first', 0x1234],
    [[0xffff], 'i16', 'high-first', -1],
    [[0x0001, 0x0000], 'u32', 'high-first', 65536],
    [[0x0000, 0x0001], 'u32', 'low-first', 65536],
    [[0xffff, 0xfffe], 'i32', 'high-first', -2],
    // 123.456 as IEEE 754 single: 42F6E979.
    [[0x42f6, 0xe979], 'f32', 'high-first', Math.fround(123.456)],
    [[0xe979, 0x42f6], 'f32', 'low-first', Math.fround(123.456)],
  ] as const)('%j as %s, %s: %d', (registers, type, order, value) => {
    expect(fromRegisters(registers, 0, type, order)).toBe(value);
    expect(toRegisters(value, type, order)).toEqual([...registers]);
  });

  it('write nothing that does not fit', () => {
    expect(toRegisters(65536, 'u16', 'high-first')).toBeNull();
    expect(toRegisters(-1, 'u32', 'high-first')).toBeNull();
    expect(toRegisters(32768, 'i16', 'high-first')).toBeNull();
    expect(toRegisters(Number.NaN, 'u16', 'high-first')).toBeNull();
    expect(toRegisters(Number.NaN, 'f32', 'high-first')).toBeNull();
  });

  it('that are not there read as nothing', () => {
    expect(fromRegisters([1], 0, 'u32', 'high-first')).toBeNaN();
    expect(fromRegisters([], 0, 'u16', 'high-first')).toBeNaN();
  });

  it('hold text, two characters each', () => {
    expect(textOf([0x504d, 0x2d38, 0x3500, 0x4141])).toBe('PM-85');
  });
});

describe('CRC-16 of Modbus RTU', () => {
  it('gives the published check value over 123456789', () => {
    expect(modbusCrc(Array.from('123456789', (c) => c.charCodeAt(0)))).toBe(0x4b37);
  });
});
