import { describe, expect, it } from 'vitest';
import { encodeToDevice, encodeToSupervisor } from '../../src/link/codec.js';
import { type ReportedRoles, servedRoles } from '../../src/link/frames.js';
import { MAX_LINE_BYTES } from '../../src/link/link.js';
import { LONGEST_LINE_BYTES, linkLoad, tripBudgets } from '../../src/rig/budget.js';
import {
  answerBytes,
  feedBytes,
  longestOrderBytes,
  makeSafeBytes,
  orderBytes,
  reportBytes,
} from '../../src/rig/frame-size.js';
import { loadRig, shippedRigs } from '../../src/rig/load.js';
import { ORDER_NAMES, ORDERS, type Order } from '../../src/rig/orders.js';
import { ASSIGNABLE_ROLES, MAX_RAFTS, PHASES, ROLES, type Role } from '../../src/rig/roles.js';

const NONCE = 'ffffffff';
const SEQ = 4294967295;

/** The longest reading a sound device can send of a role: every value large, and negative where it can be. */
function longReading(role: Role): Record<string, number> {
  const by = { V: -1999, A: -4999, degC: -299, Hz: 99, W: 9e6, ms: 4e9 } as const;
  const reading: Record<string, number> = {};
  for (const { name, unit, scale } of ROLES[role].fields) {
    if (name === 'sample' || name === 'rejectedFrames') reading[name] = 65535;
    else if (unit === '') reading[name] = 1;
    else if (unit === 'ohm') reading[name] = scale < 1 ? 999 : 9e7;
    else if (scale === 0.001) reading[name] = 4.999;
    else if (scale === 1e-6) reading[name] = -0.099999;
    else reading[name] = by[unit as keyof typeof by];
  }
  return reading;
}

describe('frame sizes', () => {
  it('bound what the codec writes, without waste', () => {
    for (const rafts of [1, 4, MAX_RAFTS]) {
      const roles: Record<string, unknown> = { device: longReading('device') };
      for (const role of servedRoles(ASSIGNABLE_ROLES, 0)) roles[role] = longReading(role as Role);
      roles.rafts = Array.from({ length: rafts }, () => longReading('raft'));
      const line = encodeToSupervisor(NONCE, SEQ, {
        verb: 'report',
        roles: roles as unknown as ReportedRoles,
      });
      const bound = reportBytes(ASSIGNABLE_ROLES, rafts);
      expect(line.length + 1).toBeLessThanOrEqual(bound);
      // Isolation can be longer by a digit than it is here for four fields, bond and power by one.
      expect(bound - line.length - 1).toBeLessThanOrEqual(8 + 4 * rafts);
    }
  });

  it('bound feed, answer and every order', () => {
    expect(encodeToDevice(NONCE, SEQ, { verb: 'feed', phase: PHASES.length - 1 }).length + 1).toBe(
      feedBytes(),
    );
    const answer = encodeToSupervisor(NONCE, SEQ, {
      verb: 'answer',
      re: SEQ,
      answer: 'bad-argument',
      failed: 7,
    });
    expect(answer.length + 1).toBe(answerBytes());
    for (const name of ORDER_NAMES) {
      const args = Object.fromEntries(ORDERS[name].args.map((a) => [a.name, 999_999 * a.scale]));
      const line = encodeToDevice(NONCE, SEQ, {
        verb: 'order',
        orders: [{ name, args } as unknown as Order],
      });
      expect(line.length + 1, name).toBe(orderBytes(ORDERS[name]));
    }
  });

  it('hold the link to its own longest line', () => {
    expect(LONGEST_LINE_BYTES).toBe(MAX_LINE_BYTES);
  });
});

describe('link load of the depot cable, by hand', () => {
  // Envelope 31, `report` 6, then tag, colon, commas and digits of each section:
  // device 30, converter 47, meter 115, loop 43, isolation 31, contactor 21, bleeder 19, latch 19, berth 23,
  // train 20, four rafts of 74, supply 34, stop 13.
  const report = 31 + 6 + 30 + 47 + 115 + 43 + 31 + 21 + 19 + 19 + 23 + 20 + 4 * 74 + 34 + 13;
  // Envelope, ` re:` and the verb, ten digits, two more numbers.
  const answer = 31 + 10 + 10 + 4;
  const feed = 31 + 8 + 2;
  // `order cv:authority,999999,999999,999999`
  const authority = 31 + 6 + 3 + 9 + 21;

  it('is 803 bytes up and 111 bytes down every 50 ms', () => {
    expect([report, answer, feed, authority]).toEqual([748, 55, 41, 70]);
    expect(linkLoad(loadRig('depot-cable').rig)).toEqual([
      {
        port: 'charger',
        baud: 460800,
        toSupervisor: {
          bytes: report + answer,
          percent: expect.closeTo((100 * 803 * 10) / (460800 * 0.05), 9),
        },
        toDevice: { bytes: feed + authority, percent: expect.closeTo((100 * 111 * 10) / (460800 * 0.05), 9) },
        longestLineBytes: report - 1,
      },
    ]);
  });

  it('is counted port by port', () => {
    const [power, field] = linkLoad(loadRig('depot-split').rig);
    expect(power!.toSupervisor.bytes).toBe(31 + 6 + 30 + 47 + 115 + answer);
    expect(field!.toSupervisor.bytes).toBe(report - 47 - 115 + answer);
    expect(field!.toDevice.bytes).toBe(feed + longestOrderBytes(['contactor', 'isolation', 'raft']));
  });
});

describe('trip budget of the depot cable, by hand', () => {
  const rows = tripBudgets(loadRig('depot-cable').rig);
  const total = (protection: string) => rows.find((r) => r.protection === protection)?.totalMs;
  const up = (803 * 10 * 1000) / 460800;
  const down = ((41 + 70 + 49) * 10 * 1000) / 460800;
  const off = 10 + down + 100 + 40;

  it('adds window, report, confirmation, supervisor, order, device and contactor', () => {
    expect(makeSafeBytes()).toBe(49);
    expect(total('pilot loop')).toBeCloseTo(50 + 50 + up + 50 + off, 9);
    expect(total('over-current')).toBeCloseTo(50 + up + 50 + off, 9);
    expect(total('cell')).toBeCloseTo(2000 + 50 + up + 50 + off, 9);
    expect(total('isolation')).toBeCloseTo(10_000 + 5000 + 50 + up + 50 + off, 9);
    expect(total('link silent')).toBeCloseTo(400 + 200 + off, 9);
  });

  it('follows a pulled plug to its dead pins', () => {
    const bleed = 80_000 * 1e-6 * Math.log(850 / 60) * 1000;
    expect(total('pins of a pulled plug below the safe voltage')).toBeCloseTo(
      50 + 50 + up + 50 + 10 + down + 100 + (200 + 200 + 80) + bleed,
      9,
    );
  });

  it.each(shippedRigs())('of %s is kept, and its parts add up', (name) => {
    const { rig } = loadRig(name);
    for (const row of tripBudgets(rig)) {
      expect(row.within, row.protection).toBe(true);
      expect(row.parts.reduce((sum, p) => sum + p.ms, 0)).toBeCloseTo(row.totalMs, 9);
    }
    const settings = tripBudgets(rig).map((r) => r.setting);
    expect(settings).toEqual(expect.arrayContaining(Object.keys(rig.tripTimes).map((k) => `tripTimes.${k}`)));
  });

  it('reads presence from sense contacts on shoes, and has no plug to pull', () => {
    const shoes = tripBudgets(loadRig('terminus-shoes').rig);
    expect(shoes[0]).toMatchObject({
      protection: 'sense contacts of the shoes',
      setting: 'tripTimes.loopMs',
    });
    expect(shoes.map((r) => r.protection)).not.toContain('pins of a pulled plug below the safe voltage');
  });

  it('takes the slowest of two ports', () => {
    const split = tripBudgets(loadRig('depot-split').rig);
    const meter = split.find((r) => r.protection === 'over-current')!.parts;
    expect(meter.find((p) => p.name === 'report on the wire')!.ms).toBeCloseTo((284 * 10 * 1000) / 230400, 9);
  });
});
