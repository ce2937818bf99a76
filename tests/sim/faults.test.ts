import { describe, expect, test } from 'vitest';
import { FAULT_NAMES, type FaultName } from '../../simulators/faults.js';
import { Bench, rigOf } from './fixture.js';

const bad = (fault: FaultName, part?: string, magnitude?: number) =>
  new Bench({ inject: [{ fault, phase: 'start', part, magnitude }] });

describe('timing', () => {
  test.each(FAULT_NAMES)('%s can be injected, and taken back', (fault) => {
    const bench = new Bench({
      rig: rigOf(fault.startsWith('shoe') || fault === 'plate-exposed' ? 'terminus-shoes' : 'depot-cable'),
      inject: [{ fault, phase: 'holding', afterS: 0.5, durationS: 1 }],
    });
    bench.go(100);
    expect(bench.world.faultLog).toEqual([]);
    bench.world.setPhase('holding');
    bench.go(400);
    bench.world.setPhase('tapering');
    bench.world.setPhase('holding');
    expect(bench.world.faultLog.length).toBe(0);
    bench.go(101);
    expect(bench.world.faultLog).toMatchObject([{ fault, atMs: 600, on: true, phase: 'holding' }]);
    bench.go(1500);
    expect(bench.world.faultLog.at(-1)).toMatchObject({ fault, on: false, atMs: 1600 });
    bench.go(12_000);
    expect(Number.isFinite(bench.world.parts.circuit.outputV())).toBe(true);
  });
});

describe('contactors', () => {
  test('a welded pole stays closed and its auxiliary says so', () => {
    const bench = bad('contactor-weld', 'n');
    bench.chargeAt(20);
    bench.makeSafe();
    expect(bench.world.read('contactor')).toMatchObject({ closedP: 0, closedN: 1, coilN: 0 });
    expect(bench.world.summary().poles.n).toBe(true);
  });

  test('welded at rest: closed without being driven', () => {
    const bench = bad('contactor-weld-at-rest', 'p');
    bench.go(100);
    expect(bench.world.read('contactor')).toMatchObject({ closedP: 1, coilP: 0 });
  });

  test('will not close', () => {
    const bench = bad('contactor-wont-close', 'n');
    bench.chargeAt(20);
    expect(bench.world.read('contactor')).toMatchObject({ closedP: 1, closedN: 0, coilN: 1 });
    expect(bench.world.parts.circuit.poleA('p')).toBeLessThan(0.1);
  });

  test('an auxiliary says closed while the pole is open', () => {
    const bench = bad('aux-says-closed', 'p');
    bench.join();
    bench.match();
    bench.close();
    expect(bench.world.read('contactor').closedP).toBe(1);
    expect(bench.world.summary().poles.p).toBe(false);
    // The output does not stay on the train: raised, it rises.
    const raisedV = bench.world.read('train').trainV + bench.rig.contactors.probeV;
    bench.order('setpoint', { currentA: bench.rig.converter.matchCurrentA, voltageV: raisedV });
    bench.go(500);
    const meter = bench.world.read('meter');
    expect(meter.outputV - meter.plugV).toBeGreaterThan(bench.rig.contactors.closedDropV);
  });

  test('an auxiliary says open while the pole is closed', () => {
    const bench = bad('aux-says-open', 'p');
    bench.chargeAt(20);
    bench.order('disable-converter', {});
    bench.go(500);
    bench.order('open-p', {});
    bench.go(100);
    expect(bench.world.read('contactor').closedP).toBe(0);
    bench.order('bleed-output', { on: 1 });
    bench.go(300);
    // The bleeder cannot pull a pack down: that is what gives the pole away.
    expect(bench.world.read('meter').outputV).toBeGreaterThan(680);
  });

  test('travelling times stay within the rig and differ from pole to pole', () => {
    const { poleP, poleN } = new Bench().world.parts;
    const { closeMs, openMs } = rigOf('depot-cable').contactors;
    for (const pole of [poleP, poleN]) {
      expect(pole.closeMs).toBeLessThanOrEqual(closeMs);
      expect(pole.openMs).toBeLessThanOrEqual(openMs);
    }
    expect([poleP.closeMs, poleP.openMs]).not.toEqual([poleN.closeMs, poleN.openMs]);
  });

  test('train contactors that weld hold the plug live; one pole holds half', () => {
    const bench = bad('train-contactor-weld');
    bench.join();
    bench.order('open-train', {});
    bench.go(500);
    expect(bench.world.read('meter').plugV).toBeGreaterThan(690);
    expect(bench.world.read('train').closedP).toBe(1);
  });

  test('a bridged pre-charge resistor lets the bus jump', () => {
    const rise = (inject: boolean) => {
      const bench = new Bench({
        rig: rigOf('yard-precharge'),
        inject: inject ? [{ fault: 'precharge-shorted', phase: 'start' }] : [],
      });
      bench.join();
      bench.order('close-n', {});
      bench.go(150);
      bench.order('close-pre', {});
      bench.go(160);
      return bench.world.parts.circuit.outputV();
    };
    expect(rise(false)).toBeLessThan(250);
    expect(rise(true)).toBeGreaterThan(650);
  });

  test('reversed polarity turns the sign of the plug only', () => {
    const bench = bad('polarity-reversed');
    bench.join();
    expect(bench.world.read('meter').plugV).toBeLessThan(-690);
    expect(bench.world.read('train').trainV).toBeGreaterThan(690);
  });
});

test('a converter that falls short delivers less than the set-point it says is in force', () => {
  const bench = new Bench({ inject: [{ fault: 'converter-falls-short', phase: 'start', magnitude: 20 }] });
  bench.chargeAt(100);
  bench.go(500);
  const { appliedSetpointA, outputA } = bench.world.read('converter');
  expect(appliedSetpointA).toBeGreaterThan(95);
  expect(outputA / appliedSetpointA).toBeGreaterThan(0.78);
  expect(outputA / appliedSetpointA).toBeLessThan(0.82);
});

describe('sensors', () => {
  test('a frozen role keeps counter and values', () => {
    const bench = new Bench();
    bench.chargeAt(50);
    const before = bench.world.read('meter');
    bench.world.inject({ fault: 'sensor-frozen', part: 'meter' });
    bench.setCurrent(150);
    bench.go(3000);
    expect(bench.world.read('meter')).toEqual(before);
    expect(bench.world.read('converter').outputA).toBeGreaterThan(80);
  });

  test('a frozen field stops the counter of its role, the other fields live', () => {
    const bench = new Bench();
    bench.chargeAt(100);
    const before = bench.world.read('raft', 2);
    bench.world.inject({ fault: 'sensor-frozen', part: 'raft2:cellMaxC' });
    bench.go(60_000);
    const after = bench.world.read('raft', 2);
    expect(after.sample).toBe(before.sample);
    expect(after.cellMaxC).toBe(before.cellMaxC);
    expect(after.soc).toBeGreaterThan(before.soc);
    expect(bench.world.read('raft', 1).sample).not.toBe(before.sample);
  });

  test('a dead voltmeter reads 0 V with its counter running', () => {
    const bench = bad('voltmeter-dead');
    bench.join();
    const first = bench.world.read('meter');
    bench.go(10);
    const second = bench.world.read('meter');
    expect(first.plugV).toBeCloseTo(0, 6);
    expect(first.plugPositiveV).toBeCloseTo(0, 6);
    expect(second.sample).not.toBe(first.sample);
    expect(bench.world.summary().plugV).toBeGreaterThan(690);
  });

  test('gain shows in the meter, not in the converter', () => {
    const bench = bad('meter-gain', undefined, 8);
    bench.chargeAt(100);
    expect(bench.world.read('meter').currentA / bench.world.read('converter').outputA).toBeCloseTo(1.08, 2);
  });

  test('extremes hold what happened between two readings, once', () => {
    const bench = new Bench();
    bench.chargeAt(100);
    bench.world.read('meter');
    bench.setCurrent(20);
    bench.go(2000);
    const meter = bench.world.read('meter');
    expect(meter.currentMaxA).toBeGreaterThan(98);
    expect(meter.currentMinA).toBeLessThan(21);
    bench.go(50);
    expect(bench.world.read('meter').currentMaxA).toBeLessThan(21);
  });

  test('can be read before anything has moved', () => {
    const meter = new Bench().world.read('meter');
    expect(Object.values(meter).every(Number.isFinite)).toBe(true);
    expect(Math.abs(meter.currentMaxA)).toBeLessThan(0.3);
  });

  test('what a rig has not got reads NaN', () => {
    const bench = new Bench();
    bench.go(10);
    expect(bench.world.read('latch').senseP).toBeNaN();
    expect(bench.world.read('raft', 1).generatorRunning).toBeNaN();
    const shoes = new Bench({ rig: rigOf('terminus-shoes') });
    shoes.go(10);
    expect(shoes.world.read('latch').senseP).toBe(1);
    expect(shoes.world.read('loop').meanA).toBeNaN();
    expect(shoes.world.read('supply').frequencyHz).toBeNaN();
  });
});

describe('the rest', () => {
  test('a pulled plug: pilot first, latch and poles later', () => {
    const bench = new Bench();
    bench.chargeAt(100);
    bench.world.inject({ fault: 'plug-pulled', magnitude: 70 });
    bench.go(40);
    expect(bench.world.parts.pilot?.state.open).toBe(true);
    expect(bench.world.read('latch').seated).toBe(1);
    bench.go(60);
    expect(bench.world.read('latch')).toMatchObject({ seated: 0, locked: 0 });
    expect(bench.world.parts.circuit.lineA('p')).toBeLessThan(0.1);
  });

  test('cooling lost: over the limit within a minute, derating first', () => {
    const bench = bad('cooling-lost', 'raft1');
    bench.chargeAt(200);
    let derated = false;
    for (let k = 0; k < 60; k++) {
      bench.go(1000);
      const raft = bench.world.read('raft', 1);
      if (raft.cellMaxC <= bench.rig.battery.raft.maxChargeC && raft.allowedA < 110 && raft.allowedA > 0)
        derated = true;
      if (raft.cellMaxC > bench.rig.battery.raft.maxChargeC) break;
    }
    expect(derated).toBe(true);
    expect(bench.world.read('raft', 1).cellMaxC).toBeGreaterThan(bench.rig.battery.raft.maxChargeC);
    expect(bench.world.read('raft', 2).cellMaxC).toBeLessThan(35);
  });

  test('a dead bleeder says on and bleeds nothing', () => {
    const bench = bad('bleeder-dead', 'plug');
    bench.chargeAt(20);
    bench.makeSafe();
    expect(bench.world.read('bleeder').plugOn).toBe(1);
    expect(bench.world.summary().outputV).toBeLessThan(10);
    expect(bench.world.summary().plugV).toBeGreaterThan(60);
  });

  test('link and host are asked', () => {
    const bench = new Bench();
    const { world } = bench;
    expect(world.portDead('charger')).toBe(false);
    world.inject({ fault: 'link-silent', durationS: 2 });
    world.inject({ fault: 'link-noisy', magnitude: 0.1 });
    world.inject({ fault: 'journal-slow', magnitude: 300 });
    world.inject({ fault: 'journal-full' });
    bench.go(10);
    expect(world.portDead('charger')).toBe(true);
    expect(world.lineTrouble('charger')).toMatchObject({ corruptShare: 0.1, dropShare: 0.05 });
    expect(world.hostFaults()).toEqual({ journalDelayMs: 300, journalFails: true });
    bench.go(2000);
    expect(world.portDead('charger')).toBe(false);
    world.inject({ fault: 'port-lost', part: 'train' });
    bench.go(1);
    expect([world.portDead('train'), world.portDead('charger')]).toEqual([true, false]);
  });

  test('a shoe lifts: its sense contact breaks before its current', () => {
    const bench = new Bench({ rig: rigOf('terminus-shoes') });
    bench.chargeAt(200);
    bench.world.inject({ fault: 'shoe-lifts', part: 'n' });
    bench.go(20);
    expect(bench.world.read('latch')).toMatchObject({ senseP: 1, senseN: 0, seated: 1 });
    expect(bench.world.parts.circuit.lineA('n')).toBeGreaterThan(150);
    bench.go(60);
    expect(Math.abs(bench.world.parts.circuit.lineA('n'))).toBeLessThan(1);
  });
});
