/** The outgoing gate. */
import { describe, expect, it } from 'vitest';
import { ORDER_NAMES, ORDERS, type Order } from '../../src/rig/orders.js';
import { askGate, type GateView } from '../../src/supervisor/gate.js';

const order = (name: Order['name'], args: object = {}): Order => ({ name, args }) as Order;
const whole: GateView = {
  phase: 'closing',
  tripped: false,
  ended: false,
  proofs: new Set([
    'secured',
    'presence',
    'isolation-dead',
    'isolation-joined',
    'train-closed',
    'voltage-matched',
    'closed-p',
    'closed-n',
  ]),
  matchesVoltage: true,
  fresh: true,
  authorityA: 100,
  matchCurrentA: 4,
  leastLimitA: 300,
  setpointA: 0,
};
const energising = ORDER_NAMES.filter((n) => ORDERS[n].permission === 'durable');

describe('the outgoing gate', () => {
  it('lets a close out with everything proven', () => {
    expect(askGate(order('close-p'), whole)).toBeNull();
  });
  it.each(['close-p', 'close-n'] as const)(
    'holds %s back when the volts have come apart since they were matched',
    (name) => {
      // Found by a storm: a voltmeter that died, or a plug that was pulled, between the match and the second pole.
      const proofs = new Set([...whole.proofs].filter((proof) => proof !== 'voltage-matched'));
      expect(askGate(order(name), { ...whole, proofs })).toBe('not proven now: voltage-matched');
      // A converter that cannot match is charged through a resistor and proven otherwise.
      expect(askGate(order(name), { ...whole, proofs, matchesVoltage: false })).toBeNull();
    },
  );
  it('holds back a set-point whose current or voltage was made from a reading nobody has', () => {
    // Found by a storm: the meter read nothing while the poles were probed, and the codec threw.
    const why = 'set-point is not a number';
    expect(askGate(order('setpoint', { currentA: 1, voltageV: Number.NaN }), whole)).toBe(why);
    expect(askGate(order('setpoint', { currentA: Number.NaN, voltageV: 700 }), whole)).toBe(why);
    expect(askGate(order('setpoint', { currentA: 1, voltageV: 700 }), whole)).toBeNull();
  });
  it.each(energising)('holds %s back after a trip, after the end, and on stale readings', (name) => {
    const any = order(name, { raft: 1, matchA: 1, ceilingA: 1, slopeAPerS: 1, lifeMs: 1 });
    for (const phase of [
      'joining-train',
      'matching-voltage',
      'pre-charging',
      'closing',
      'ramping',
    ] as const) {
      expect(askGate(any, { ...whole, phase, tripped: true })).not.toBeNull();
      expect(askGate(any, { ...whole, phase, ended: true })).not.toBeNull();
      expect(askGate(any, { ...whole, phase, fresh: false })).not.toBeNull();
    }
  });
  it.each(energising)('holds %s back without presence, without securing, and in the wrong phase', (name) => {
    const any = order(name, { raft: 1, matchA: 1, ceilingA: 1, slopeAPerS: 1, lifeMs: 1 });
    for (const phase of [
      'joining-train',
      'matching-voltage',
      'pre-charging',
      'closing',
      'ramping',
    ] as const) {
      for (const gone of ['secured', 'presence'] as const) {
        const proofs = new Set([...whole.proofs].filter((p) => p !== gone));
        expect(askGate(any, { ...whole, phase, proofs })).not.toBeNull();
      }
    }
    expect(askGate(any, { ...whole, phase: 'bleeding' })).not.toBeNull();
    expect(askGate(any, { ...whole, phase: 'parked' })).not.toBeNull();
  });
  it('lets a set-point out only inside the live authority and under the least limit', () => {
    const set = (currentA: number) => order('setpoint', { currentA, voltageV: 780 });
    expect(askGate(set(100), whole)).toBeNull();
    expect(askGate(set(100.1), whole)).not.toBeNull();
    expect(askGate(set(50), { ...whole, leastLimitA: 40 })).not.toBeNull();
    expect(askGate(set(5), { ...whole, authorityA: 0 })).not.toBeNull();
    expect(askGate(set(Number.NaN), whole)).not.toBeNull();
  });
  it('lets a set-point rise only with both poles closed, and fall at any time (I2)', () => {
    const set = (currentA: number) => order('setpoint', { currentA, voltageV: 780 });
    for (const gone of ['closed-p', 'closed-n'] as const) {
      const proofs = new Set([...whole.proofs].filter((p) => p !== gone));
      expect(askGate(set(60), { ...whole, proofs, setpointA: 59 })).toMatch(/both poles closed/);
      expect(askGate(set(59), { ...whole, proofs, setpointA: 59 })).toBeNull();
    }
  });
  it('frees the plug only when everything is proven dead and nothing has tripped (I5)', () => {
    expect(askGate(order('unlock'), whole)).not.toBeNull();
    const dead = { ...whole, proofs: new Set([...whole.proofs, 'proven-dead' as const]) };
    expect(askGate(order('unlock'), dead)).toBeNull();
    expect(askGate(order('unlock'), { ...dead, tripped: true })).not.toBeNull();
  });
  it('never holds back what makes safer', () => {
    const nothing: GateView = { ...whole, proofs: new Set(), fresh: false, tripped: true, ended: true };
    for (const name of [
      'make-safe',
      'open-p',
      'open-n',
      'open-train',
      'disable-converter',
      'trip-supply',
    ] as const)
      expect(askGate(order(name), nothing)).toBeNull();
  });
});
