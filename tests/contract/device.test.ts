/**
 * The simulated device against the contract, and what only a simulator shows: what it orders of its plant, and
 * faults that are put into it.
 */
import { describe, expect, it } from 'vitest';
import { bare, deviceContract, ENABLE, GRANT, SET } from './device.contract.js';
import { makeSafeContract } from './make-safe.contract.js';
import { ALL_ROLES } from './stub-plant.js';
import { VirtualBench } from './virtual-bench.js';

deviceContract('simulated', (options) => new VirtualBench(options));
makeSafeContract('simulated', (options) => new VirtualBench(options));

describe('simulated device: what it orders of its plant', () => {
  it('takes the set-point down and withdraws the authority when its life is over', () => {
    const bench = new VirtualBench().hello('11111111').feed();
    bench.order(ENABLE, GRANT(100, 500), SET(80));
    const at = bench.nowMs;
    bench.pass(700);
    expect(bench.plant.since(at).map((e) => e.split(' ')[1])).toEqual(['setpoint:0', 'authority:0']);
  });

  it('orders nothing behind a failed order', () => {
    const bench = new VirtualBench({ roles: ['contactor', 'latch', 'raft1'] }).hello('11111111').feed();
    bench.order(bare('lock'), ENABLE, bare('close-p'));
    expect(bench.plant.diary.map((d) => d.order.name)).toEqual(['lock']);
  });

  it('makes safe in this order, the isolation device and the pre-charge contactor too', () => {
    const bench = new VirtualBench().charge(0);
    bench.send({ verb: 'order', orders: [bare('make-safe')] });
    let at = Number.NaN;
    bench.plant.onStep = (now) => {
      if (Number.isNaN(at) && bench.host.devices[0]?.madeSafe) at = now - 1;
    };
    bench.pass(8000);
    expect(bench.plant.since(at)).toEqual([
      '0 disable-converter',
      '0 isolate:3',
      '0 open-p',
      '0 open-pre',
      '20 bleed-output:1',
      '200 open-n',
      '400 open-train',
      '480 bleed-plug:1',
      expect.stringMatching(/^\d+ bleed-(output|plug):0$/),
      expect.stringMatching(/^\d+ bleed-(output|plug):0$/),
    ]);
  });

  it('frees no plug of its own accord, and opens P once', () => {
    const bench = new VirtualBench().charge(0);
    bench.order({ name: 'lock', args: {} }, bare('make-safe'));
    bench.pass(8000);
    const names = bench.plant.diary.map((d) => d.order.name);
    expect(names.filter((name) => name === 'open-p')).toHaveLength(1);
    expect(names).not.toContain('unlock');
  });
});

describe('simulated device: faults put into it', () => {
  it('is silent, and makes safe, when its port is dead', () => {
    const bench = new VirtualBench().charge(0);
    bench.plant.deadPorts.add('main');
    const heard = bench.heard.length;
    bench.pass(1000);
    expect(bench.heard.length).toBeLessThanOrEqual(heard + 1);
    expect(bench.host.devices[0]?.latched).toBe(true);
  });

  it('suffers the trouble of its line', () => {
    const bench = new VirtualBench({ roles: ALL_ROLES }).charge(0);
    bench.plant.trouble = {
      dropShare: 0.05,
      corruptShare: 0.05,
      duplicateShare: 0.05,
      delayShare: 0,
      delayMaxMs: 0,
    };
    bench.pass(20_000);
    expect(bench.host.devices[0]?.latched).toBe(false);
    expect(bench.gate.rejected).toBeGreaterThan(5);
    expect(bench.gate.missing).toBeGreaterThan(5);
  });
});
