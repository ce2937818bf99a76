import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  decodeToDevice,
  decodeToSupervisor,
  encodeToDevice,
  encodeToSupervisor,
} from '../../src/link/codec.js';
import { crc32c, crcText } from '../../src/link/crc32c.js';
import { REJECTS, type Reject, servedRoles } from '../../src/link/frames.js';
import { MAX_LINE_BYTES } from '../../src/link/link.js';
import { reportBytes } from '../../src/rig/frame-size.js';
import { ASSIGNABLE_ROLES, ROLE_NAMES, ROLES, type Role } from '../../src/rig/roles.js';
import { nonce, seq, toDevice, toSupervisor } from './codec-arbitraries.js';

const SEED = 20300101;
const sealed = (text: string): string => `${text}*${crcText(crc32c(text))}`;

describe('round trip', () => {
  it('gives back every frame to the device', () => {
    fc.assert(
      fc.property(nonce, seq, toDevice, (n, s, body) => {
        const line = encodeToDevice(n, s, body);
        expect(decodeToDevice(line)).toEqual({ ok: true, frame: { nonce: n, seq: s, body } });
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  it('gives back every frame to the supervisor', () => {
    fc.assert(
      fc.property(nonce, seq, toSupervisor, (n, s, body) => {
        const line = encodeToSupervisor(n, s, body);
        expect(line.length).toBeLessThanOrEqual(MAX_LINE_BYTES);
        expect(decodeToSupervisor(line)).toEqual({ ok: true, frame: { nonce: n, seq: s, body } });
      }),
      { seed: SEED, numRuns: 500 },
    );
  });

  it('knows one spelling only: what it takes, it would have written the same', () => {
    fc.assert(
      fc.property(
        nonce,
        seq,
        toSupervisor,
        fc.nat(),
        fc.constantFrom('0', '-', ',', '1', ' '),
        (n, s, b, at, put) => {
          const head = encodeToSupervisor(n, s, b).slice(0, -9);
          const cut = at % (head.length + 1);
          const line = sealed(head.slice(0, cut) + put + head.slice(cut));
          const decoded = decodeToSupervisor(line);
          if (decoded.ok) {
            const { frame } = decoded;
            expect(encodeToSupervisor(frame.nonce, frame.seq, frame.body)).toBe(line);
          }
        },
      ),
      { seed: SEED, numRuns: 1000 },
    );
  });
});

describe('bytes of any kind', () => {
  const ours = (line: string): boolean => decodeToDevice(line).ok || decodeToSupervisor(line).ok;

  it('never throws, and takes nothing that is not a frame', () => {
    const text = fc.oneof(
      fc.string({ unit: 'binary', maxLength: 300 }),
      fc.string({ unit: 'grapheme-ascii', maxLength: 300 }),
      fc
        .array(fc.constantFrom(...'<>*:,-0123456789abcdf rvpotdwl'), { maxLength: 200 })
        .map((a) => a.join('')),
    );
    fc.assert(
      fc.property(text, (line) => {
        expect(ours(line)).toBe(false);
      }),
      { seed: SEED, numRuns: 3000 },
    );
  });

  it('never throws on a right check over anything, and says why from the closed list', () => {
    const bodies = fc
      .tuple(fc.constantFrom('<0123abcd 7 ', '>0123abcd 7 ', '<', ''), fc.string({ unit: 'grapheme-ascii' }))
      .map(([head, tail]) => sealed(head + tail));
    fc.assert(
      fc.property(bodies, (line) => {
        for (const decoded of [decodeToDevice(line), decodeToSupervisor(line)]) {
          if (!decoded.ok) expect(REJECTS).toContain(decoded.why);
        }
      }),
      { seed: SEED, numRuns: 3000 },
    );
  });

  it('turns away every frame with a changed, lost or added byte', () => {
    fc.assert(
      fc.property(
        nonce,
        seq,
        toSupervisor,
        fc.nat(),
        fc.integer({ min: 1, max: 255 }),
        (n, s, body, where, change) => {
          const line = encodeToSupervisor(n, s, body);
          const at = where % line.length;
          const changed = String.fromCharCode(line.charCodeAt(at) ^ change);
          expect(ours(line.slice(0, at) + changed + line.slice(at + 1))).toBe(false);
          expect(ours(line.slice(0, at) + line.slice(at + 1))).toBe(false);
          expect(ours(line.slice(0, at) + changed + line.slice(at))).toBe(false);
        },
      ),
      { seed: SEED, numRuns: 700 },
    );
  });
});

describe('reasons', () => {
  const cases: readonly (readonly [Reject, string, string])[] = [
    ['too-long', 'a line over the bound', 'x'.repeat(MAX_LINE_BYTES + 1)],
    ['not-ascii', 'a carriage return', `${sealed('>0123abcd 1 feed ph:0')}\r`],
    ['not-ascii', 'a byte above 126', sealed('>0123abcd 1 feed ph:0\u00e9')],
    ['bad-grammar', 'nothing', ''],
    ['bad-grammar', 'no check', '>0123abcd 1 feed ph:0'],
    ['bad-crc', 'another check', '>0123abcd 1 feed ph:0*00000000'],
    ['bad-crc', 'a check in upper case', sealed('>0123abcd 1 feed ph:0').toUpperCase()],
    ['wrong-direction', 'an echo of the device itself', sealed('<0123abcd 1 report dv:1,2,0,0,0')],
    ['bad-grammar', 'neither direction', sealed('=0123abcd 1 feed ph:0')],
    ['bad-grammar', 'a nonce in upper case', sealed('>0123ABCD 1 feed ph:0')],
    ['bad-grammar', 'no space after the nonce', sealed('>0123abcd1 feed ph:0')],
    ['out-of-range', 'sequence zero', sealed('>0123abcd 0 feed ph:0')],
    ['out-of-range', 'a sequence over 32 bits', sealed('>0123abcd 4294967296 feed ph:0')],
    ['out-of-range', 'a number over any bound', sealed('>0123abcd 99999999999999999999 feed ph:0')],
    ['bad-grammar', 'a leading zero', sealed('>0123abcd 01 feed ph:0')],
    ['bad-grammar', 'minus zero', sealed('>0123abcd 1 feed ph:-0')],
    ['bad-grammar', 'an empty phase', sealed('>0123abcd 1 feed ph:')],
    ['out-of-range', 'a phase nobody knows', sealed('>0123abcd 1 feed ph:200')],
    ['out-of-range', 'a negative phase', sealed('>0123abcd 1 feed ph:-1')],
    ['bad-grammar', 'more than the verb takes', sealed('>0123abcd 1 feed ph:0 ph:0')],
    ['unknown-verb', 'another verb', sealed('>0123abcd 1 charge ph:0')],
    ['bad-grammar', 'an order frame without orders', sealed('>0123abcd 1 order')],
    ['unknown-role', 'an order to nobody', sealed('>0123abcd 1 order zz:enable')],
    ['bad-grammar', 'nine orders', sealed(`>0123abcd 1 order${' la:lock'.repeat(9)}`)],
    [
      'unknown-role',
      'a hello with an unknown role',
      sealed('>0123abcd 1 hello lw:1 per:100 wd:300 lim:1,1 roles:zz'),
    ],
    ['bad-grammar', 'a role twice', sealed('>0123abcd 1 hello lw:1 per:100 wd:300 lim:1,1 roles:cv,cv')],
  ];
  it.each(cases)('%s: %s', (why, _what, line) => {
    expect(decodeToDevice(line)).toEqual({ ok: false, why });
  });

  it.each([
    ['bad-grammar', 'no section', '<0123abcd 1 report'],
    ['bad-grammar', 'the device not first', '<0123abcd 1 report st:1,1,0'],
    ['bad-grammar', 'a section twice', '<0123abcd 1 report dv:1,2,0,0,0 st:1,1,0 st:1,1,0'],
    ['bad-grammar', 'sections out of order', '<0123abcd 1 report dv:1,2,0,0,0 st:1,1,0 su:1,1,1,5000,4000,1'],
    ['bad-grammar', 'a value missing', '<0123abcd 1 report dv:1,2,0,0'],
    ['bad-grammar', 'a value too many', '<0123abcd 1 report dv:1,2,0,0,0,0'],
    ['bad-grammar', 'a fraction', '<0123abcd 1 report dv:1,2.5,0,0,0'],
    ['unknown-role', 'an unknown role', '<0123abcd 1 report dv:1,2,0,0,0 zz:1'],
    ['unknown-role', 'raft nine', '<0123abcd 1 report dv:1,2,0,0,0 r9:1,,,,,,,,,,,,'],
    ['out-of-range', 'an unknown answer code', '<0123abcd 1 answer re:1,9,'],
    ['bad-grammar', 'done, and yet failed', '<0123abcd 1 answer re:1,0,3'],
    ['bad-grammar', 'failed, and yet nowhere', '<0123abcd 1 answer re:1,1,'],
    ['out-of-range', 'a part beyond the last', '<0123abcd 1 wave re:1 part:3,2 dt:1000 ua:1'],
    ['bad-grammar', 'too long a token', `<0123abcd 1 tag ev:1,${'a'.repeat(33)},1`],
  ] as const)('%s: a frame with %s', (why, _what, text) => {
    expect(decodeToSupervisor(sealed(text))).toEqual({ ok: false, why });
  });
});

describe('orders', () => {
  const orders = (text: string) => {
    const decoded = decodeToDevice(sealed(`>0123abcd 1 order ${text}`));
    return decoded.ok && decoded.frame.body.verb === 'order' ? decoded.frame.body.orders : decoded;
  };

  it('that mean nothing can be answered', () => {
    expect(orders('cv:jump,3 la:lock')).toEqual([
      { name: 'misfit', answer: 'unknown-order', text: 'cv:jump' },
      { name: 'lock', args: {} },
    ]);
    expect(orders('cv:set,100')).toEqual([{ name: 'misfit', answer: 'bad-argument', text: 'cv:set' }]);
    expect(orders('cv:set,100,')).toEqual([{ name: 'misfit', answer: 'bad-argument', text: 'cv:set' }]);
  });

  it('are rounded down: never more is sent than was ordered', () => {
    const line = encodeToDevice('0123abcd', 1, {
      verb: 'order',
      orders: [{ name: 'setpoint', args: { currentA: 249.999, voltageV: 790.19 } }],
    });
    expect(line).toContain(' cv:set,24999,7901*');
  });

  it('that cannot be expressed are never sent as something else', () => {
    const set = (currentA: number) => () =>
      encodeToDevice('0123abcd', 1, {
        verb: 'order',
        orders: [{ name: 'setpoint', args: { currentA, voltageV: 700 } }],
      });
    for (const bad of [Number.NaN, Number.POSITIVE_INFINITY, -1, 1e9]) expect(set(bad)).toThrow(RangeError);
  });
});

describe('values', () => {
  it('that cannot be read or expressed are empty and come back as NaN', () => {
    const device = { sample: 1, clockMs: 2, latched: 0, madeSafe: 0, rejectedFrames: 0 };
    const stop = { sample: Number.NaN, chainClosed: Number.POSITIVE_INFINITY, buttonPressed: 1e12 };
    const line = encodeToSupervisor('0123abcd', 1, { verb: 'report', roles: { device, stop, rafts: [] } });
    expect(line).toContain(' st:,,*');
    const decoded = decodeToSupervisor(line);
    expect(decoded.ok && decoded.frame.body.verb === 'report' && decoded.frame.body.roles.stop).toEqual({
      sample: Number.NaN,
      chainClosed: Number.NaN,
      buttonPressed: Number.NaN,
    });
  });

  it('round correctly: a tenth is a tenth', () => {
    const line = sealed('<0123abcd 1 report dv:1,2,0,0,0 tr:1,1,1,7503');
    const decoded = decodeToSupervisor(line);
    expect(decoded.ok && decoded.frame.body.verb === 'report' && decoded.frame.body.roles.train?.trainV).toBe(
      750.3,
    );
  });
});

describe('size', () => {
  const widest = (role: Role) =>
    Object.fromEntries(ROLES[role].fields.map((f) => [f.name, f.unit === '' ? 1 : 1234 * f.scale]));
  const roles = {
    ...Object.fromEntries(ROLE_NAMES.filter((r) => r !== 'raft').map((r) => [r, widest(r)])),
    rafts: [1, 2, 3, 4].map(() => widest('raft')),
  } as never;
  const line = encodeToSupervisor('0123abcd', 1234, { verb: 'report', roles });

  it('an ordinary report is no longer than the link budget counts with', () => {
    expect(line.length + 1).toBeLessThanOrEqual(reportBytes([...ASSIGNABLE_ROLES], 4));
    expect(servedRoles(['raft', 'meter'], 2)).toEqual(['meter', 'raft1', 'raft2']);
  });
});
