/** What the loader says of command maps that cannot be used, and of rigs that ask too much of them. */
import { describe, expect, it } from 'vitest';
import { tripBudgets } from '../../../src/rig/budget.js';
import { roundOf } from '../../../src/rig/instrument-timing.js';
import { loadRig } from '../../../src/rig/load.js';
import { loadText, refusal } from '../rig-files.js';

const FIELD = 'loop, isolation, contactor, bleeder, latch, berth, train, raft, supply, stop';
/** A rig whose source has this map; what is given in `port` stands beside it. */
function rigWith(port = 'baud: 115200, pollMs: 50', roles = 'converter', more = ''): string {
  const other = roles === 'converter' ? 'meter' : 'converter';
  return (
    'extends: depot-instruments.yaml\nname: try\ntitle: a variant for a test\nlink:\n  ports:\n' +
    `    - { name: one, ${port}, roles: [${roles}], instrument: map.yaml }\n` +
    `    - { name: field, baud: 460800, roles: [${other}, ${FIELD}] }\n${more}`
  );
}
const scpi = (body: string) => ({ 'map.yaml': `extends: instruments/scpi-source.yaml\n${body}` });
const meter = (body: string) => ({ 'map.yaml': `extends: instruments/scpi-meter.yaml\n${body}` });
const modbus = (body: string) => ({ 'map.yaml': `extends: instruments/modbus-module.yaml\n${body}` });

describe('a map that can be used', () => {
  it.each(['depot-instruments', 'depot-module'])('%s: every instrument fits its round', (name) => {
    const { rig, instruments } = loadRig(name);
    expect(instruments.size).toBeGreaterThan(0);
    for (const [port, map] of instruments) {
      const { baud, pollMs } = rig.link.ports.find((p) => p.name === port)!;
      expect(roundOf(map, baud).ms).toBeLessThanOrEqual(pollMs as number);
    }
  });

  it('counts into the identity of the rig', () => {
    const [one, other] = ['answerMs: 80', 'answerMs: 90'].map((timing) =>
      loadText(rigWith(), scpi(`timing: { ${timing} }\n`)),
    );
    expect(one?.hash).not.toBe(other?.hash);
  });

  it('may say that there is no watchdog when it says what stands in its place', () => {
    const stop = 'The stop chain drops the contactor in the mains of the source, tested every week.';
    const { instruments } = loadText(rigWith(), scpi(`watchdog: none\nhardWiredStop: ${stop}\n`));
    expect(instruments.get('one')).toMatchObject({ watchdog: 'none', hardWiredStop: stop });
  });

  it('takes its round into the trip times', () => {
    const parts = tripBudgets(loadRig('depot-instruments').rig).find(
      (b) => b.protection === 'over-current',
    )!.parts;
    expect(parts.find((p) => p.name === 'until the instrument is asked')?.ms).toBe(50);
    const without = tripBudgets(loadRig('depot-split').rig).find(
      (b) => b.protection === 'over-current',
    )!.parts;
    expect(without.map((p) => p.name)).not.toContain('until the instrument is asked');
  });

  it('takes as long as its bytes and pauses: by hand, a module at 115200 baud', () => {
    const map = loadRig('depot-module').instruments.get('module')!;
    // Voltage 8 + 8, current 13 + 8, seven registers 8 + 19, three registers 8 + 11: 83 bytes of 10 bits, and for each
    // of four messages 2 ms of the module, 1 ms of gap and twice 1.75 ms of silence.
    expect(roundOf(map, 115200).ms).toBeCloseTo((83 * 10 * 1000) / 115200 + 4 * (2 + 1 + 3.5), 9);
  });
});

describe('a map that cannot be used', () => {
  it.each([
    ['watchdog: null\n', 'watchdog', /missing: name the instrument's own communication watchdog/],
    ['watchdog: none\n', 'hardWiredStop', /missing beside `watchdog: none`/],
    ['hardWiredStop: the stop chain of the bench\n', 'hardWiredStop', /only beside/],
    ['watchdog: { timeMs: { value: 100, source: test } }\n', 'watchdog.timeMs', /at least three rounds/],
    [
      'watchdog: { timeMs: { value: 1500, source: test } }\n',
      'watchdog.timeMs',
      /tripTimes\.silenceMs, 1000 ms/,
    ],
    ['watchdog: { say: "SYST:COMM:WATC 0.5" }\n', 'watchdog.say', /must hold \{s\} once/],
    ['actions: { setCurrent: "SOUR:CURR 10" }\n', 'actions.setCurrent', /must hold \{A\} once/],
    ['actions: null\n', 'actions', /missing: a converter must be switched and set/],
    ['steps: null\n', 'steps', /missing/],
    ['role: meter\n', 'role', /meter, but port one of the rig serves converter/],
    ['reads: [{ ask: "MEAS:VOLT?", fields: [outputV] }]\n', 'reads', /nothing reads outputA, outputOn/],
    [
      'reads: [{ ask: "A?", fields: [outputV, outputA, outputOn, plugV] }]\n',
      'reads',
      /plugV is no reading of a converter/,
    ],
    [
      'reads: [{ ask: "A?", fields: [outputV, outputV, outputA, outputOn] }]\n',
      'reads',
      /outputV is read twice/,
    ],
    [
      'limits: { maxCurrentA: { value: 300, source: test } }\n',
      'limits.maxCurrentA',
      /300 A, the rig asks for 320 A/,
    ],
    [
      'timing: { latencyMs: 12 }\n',
      'reads',
      /takes up to 54\.3 ms at 115200 baud; pollMs of port one is 50 ms/,
    ],
    ['speaks: smoke\n', 'speaks', /found "smoke", expected one of scpi, modbus/],
    ['actions: { setCurent: "X {A}" }\n', 'actions.setCurent', /unknown key, did you mean setCurrent/],
    ['errors: null\n', 'errors', /missing/],
  ])('%j: %s', (body, at, message) => {
    const { what, faults } = refusal(rigWith(), scpi(body));
    expect(what).toMatch(/^instrument map\.yaml cannot be used/);
    const fault = faults.find((f) => f.path === at);
    expect(fault?.message).toMatch(message);
    expect(fault?.line).toBeGreaterThan(0);
  });

  it('a meter without extremes of its own where the rounds are too slow to follow a plug that is bled', () => {
    const body =
      'reads: [{ ask: "FETC? (@101:109)", fields: [currentA, outputV, plugV, outputPositiveV, outputNegativeV, ' +
      'plugPositiveV, plugNegativeV, cableC, contactC] }]\n';
    const { faults } = refusal(rigWith(undefined, 'meter'), meter(body));
    // 80 kilohm and 1 µF: e^(-50/80) is 53.5 %.
    expect(faults.map((f) => f.message).join()).toMatch(
      /the plug falls to 53\.53 % while it is bled \(time constant 80 ms\)/,
    );
  });

  it('a block of registers that ends before its last value', () => {
    const body =
      'reads: [{ table: input, address: 0, registers: 3, values: [{ field: outputV, at: 2, type: u32 }, ' +
      '{ field: outputA, at: 0, type: u16 }, { field: outputOn, at: 1, type: u16 }] }]\n';
    const { faults } = refusal(rigWith(), modbus(body));
    expect(faults[0]).toMatchObject({
      path: 'reads.0.values.0.at',
      message: expect.stringMatching(/ends at register 4/),
    });
  });

  it('that is not there', () => {
    expect(refusal(rigWith()).what).toMatch(/map\.yaml cannot be read: there is no such file/);
  });
});

describe('a rig that asks too much', () => {
  it.each([
    ['baud: 115200', 'link.ports.0.pollMs', /missing, expected a number in ms/],
    ['baud: 115200, pollMs: 200', 'link.ports.0.pollMs', /a reading is up to 450 ms old/],
    [
      'baud: 115200, pollMs: 60',
      'ramp.downAPerS',
      /in two rounds of port one \(2 × 60 ms\) the current falls by 3\.6 A/,
    ],
  ])('%s: %s', (port, at, message) => {
    const { faults } = refusal(rigWith(port), scpi(''));
    expect(faults.find((f) => f.path === at)?.message).toMatch(message);
  });

  it('two roles of one instrument, a slow line without one, rounds without one', () => {
    const text = (ports: string) =>
      `extends: depot-instruments.yaml\nname: try\ntitle: a variant for a test\nlink:\n  ports:\n${ports}`;
    const both = refusal(
      text(
        '    - { name: one, baud: 115200, pollMs: 50, roles: [converter, meter], instrument: map.yaml }\n' +
          `    - { name: field, baud: 460800, roles: [${FIELD}] }\n`,
      ),
      scpi(''),
    );
    expect(both.faults[0]).toMatchObject({
      path: 'link.ports.0.roles',
      message: 'an instrument serves one role: converter or meter',
    });
    const slow = refusal(
      text(
        '    - { name: one, baud: 19200, pollMs: 50, roles: [converter, meter] }\n' +
          `    - { name: field, baud: 460800, roles: [${FIELD}] }\n`,
      ),
    );
    expect(slow.faults.map((f) => f.path)).toEqual(
      expect.arrayContaining(['link.ports.0.pollMs', 'link.ports.0.baud']),
    );
  });
});
