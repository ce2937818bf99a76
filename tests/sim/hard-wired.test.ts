/** The relays of a proving bench, against closed forms: an exponential mean, a divider, a travelling time. */
import { describe, expect, it } from 'vitest';
import type { RelayWeaknesses } from '../../simulators/hard-wired.js';
import { HARD_WIRED } from '../../src/link/frames.js';
import { Bench } from './fixture.js';

/** ms from the fault to the relay; NaN where none opened within a second. */
function relayMs(fault: Parameters<Bench['world']['inject']>[0], relays: RelayWeaknesses = {}): number {
  const bench = new Bench({ proving: { relays } });
  bench.chargeAt(30);
  bench.world.takeEvents();
  bench.world.inject(fault);
  bench.go(1000);
  const events = bench.world.takeEvents();
  const atMs = (kind: string): number => events.find((e) => e.kind === kind)?.atMs ?? Number.NaN;
  return atMs('relay') - atMs('mark');
}

const OPEN = { fault: 'loop-open' } as const;
const TEST = { fault: 'relay-test-voltage', magnitude: 935 } as const;
/** Time constant of the pilot relay's mean, what it lets go at, and its own time. */
const [TAU_MS, SHARE, OWN_MS] = [15, 0.5, 8];

describe('the pilot relay', () => {
  // Its mean falls as e^(−t/τ) once the loop is open: it lets go at τ·ln(1/share), and opens its own time later.
  it.each([
    ['sound', {}, TAU_MS * Math.log(1 / SHARE) + OWN_MS],
    ['late', { late: 2 }, 2 * (TAU_MS * Math.log(1 / SHARE) + OWN_MS)],
    ['set a fifth too low', { setting: 0.8 }, TAU_MS * Math.log(1 / (0.8 * SHARE)) + OWN_MS],
  ] as const)('%s, opens when an exponential mean says so', (_, weak, expectedMs) => {
    expect(Math.abs(relayMs(OPEN, { pilot: weak }) - expectedMs)).toBeLessThanOrEqual(1.5);
  });

  it('that is missing never opens, and leaves the poles closed', () => {
    expect(relayMs(OPEN, { pilot: { missing: true } })).toBeNaN();
  });

  it('drops nothing while no coil is driven', () => {
    const bench = new Bench({ proving: { relays: {} } });
    bench.go(500);
    bench.world.inject(OPEN);
    bench.go(500);
    expect(bench.world.takeEvents().map((e) => e.kind)).toEqual(['mark']);
  });
});

describe('the over-voltage relay', () => {
  // 1.04 × 850 V = 884 V; a fifth more is 1061 V.
  it('picks up above 884 V, after 3 ms', () => {
    expect(relayMs(TEST)).toBe(3);
    expect(relayMs(TEST, { 'over-voltage': { late: 2 } })).toBe(6);
    expect(relayMs({ ...TEST, magnitude: 883 })).toBeNaN();
    expect(relayMs({ ...TEST, magnitude: 885 })).toBe(3);
    expect(relayMs({ ...TEST, magnitude: 1060 }, { 'over-voltage': { setting: 1.2 } })).toBeNaN();
  });
});

describe('an open coil circuit', () => {
  const pressed = (relays: RelayWeaknesses) => {
    const bench = new Bench({ proving: { relays } });
    bench.chargeAt(30);
    bench.world.takeEvents();
    bench.world.inject({ fault: 'stop-pressed', durationS: 0.2 });
    bench.go(600);
    return bench;
  };

  it('drops both poles within their time, and blocks the converter', () => {
    const bench = pressed({});
    const events = bench.world.takeEvents();
    const relay = events.find((e) => e.kind === 'relay');
    expect(relay?.value).toBe(HARD_WIRED['stop-button']);
    for (const kind of ['parted-p', 'parted-n'] as const) {
      const took = (events.find((e) => e.kind === kind)?.atMs ?? Number.NaN) - (relay?.atMs ?? 0);
      expect(took).toBeGreaterThan(0);
      expect(took).toBeLessThanOrEqual(bench.rig.contactors.openMs);
    }
    expect(bench.world.read('converter').outputA).toBeLessThan(1);
  });

  it('stays open when the button is reset, whatever is ordered; one that forgets pulls in again', () => {
    const sound = pressed({});
    sound.order('close-p', {});
    sound.go(300);
    expect(sound.world.read('contactor')).toMatchObject({ closedP: 0, closedN: 0, coilP: 0 });
    expect(sound.world.read('stop').chainClosed).toBe(0);
    expect(pressed({ 'stop-button': { forgets: true } }).world.read('contactor')).toMatchObject({
      closedP: 1,
      closedN: 1,
    });
  });

  it('that forgets does not close what the device has let go meanwhile', () => {
    const bench = new Bench({ proving: { relays: { 'stop-button': { forgets: true } } } });
    bench.chargeAt(30);
    bench.world.inject({ fault: 'stop-pressed', durationS: 0.2 });
    bench.go(100);
    bench.order('open-n', {});
    bench.go(500);
    expect(bench.world.read('contactor')).toMatchObject({ closedP: 1, closedN: 0 });
  });

  it('is only on a bench that proves: elsewhere nothing is timed and nothing drops', () => {
    const bench = new Bench();
    bench.chargeAt(30);
    bench.world.inject({ fault: 'stop-pressed' });
    bench.world.inject(TEST);
    bench.go(300);
    expect(bench.world.takeEvents()).toEqual([]);
    expect(bench.world.read('contactor')).toMatchObject({ closedP: 1, closedN: 1 });
  });
});
