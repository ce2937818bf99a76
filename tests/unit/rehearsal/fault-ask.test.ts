/** Faults as asked for by hand: what is filled in, and what is turned away with what is known. */
import { describe, expect, it } from 'vitest';
import { FAULT_NAMES, FAULTS } from '../../../simulators/faults.js';
import { World } from '../../../simulators/world.js';
import { checkFault, faultsOf } from '../../../src/rehearsal/fault-ask.js';
import { loadRig } from '../../../src/rig/load.js';

const cable = loadRig('depot-cable').rig;
const shoes = loadRig('terminus-shoes').rig;

describe('a fault asked for by hand', () => {
  it('has what the table gives where nothing else is said', () => {
    expect(checkFault({ fault: 'isolation-one-pole' }, cable)).toEqual({
      fault: 'isolation-one-pole',
      magnitude: 20_000,
      part: 'cable-p',
      phase: null,
      afterS: 0,
      durationS: undefined,
    });
    const asked = { fault: 'isolation-one-pole', magnitude: 5e3, part: 'train-n', phase: 'holding' } as const;
    expect(checkFault({ ...asked, afterS: 2, durationS: 3 }, cable)).toEqual({
      ...asked,
      afterS: 2,
      durationS: 3,
    });
  });
  it.each([cable, shoes])('that is offered on a rig can be made there as it stands in the table', (rig) => {
    const offered = faultsOf(rig);
    expect(offered.length).toBeGreaterThan(50);
    for (const fault of offered) {
      const { magnitude, part } = checkFault({ fault }, rig);
      const world = new World({ rig, seed: 1 });
      world.inject({ fault, magnitude, part });
      world.advanceTo(5);
      expect(world.faultLog).toMatchObject([{ fault, magnitude, part, on: true }]);
      world.clearFaults();
      world.mend();
      world.advanceTo(200);
    }
  });
  it('is offered only where it does something', () => {
    expect(faultsOf(cable)).toContain('loop-crush');
    expect(faultsOf(cable)).not.toContain('shoe-lifts');
    expect(faultsOf(shoes)).toContain('shoe-lifts');
    expect(faultsOf(shoes)).not.toContain('plug-pulled');
    expect(FAULT_NAMES.filter((f) => !faultsOf(cable).includes(f) && !faultsOf(shoes).includes(f))).toEqual(
      // No pre-charge and no generator raft on these two, and no hard-wired relays on any bench of this kind.
      ['precharge-shorted', 'precharge-open', 'relay-test-voltage', 'generator-running'],
    );
    expect(faultsOf(loadRig('yard-precharge').rig)).toContain('precharge-shorted');
    expect(faultsOf(loadRig('yard-generator').rig)).toContain('generator-running');
  });
  it.each([
    [{ fault: 'loop-crash' }, /there is no fault loop-crash; known faults: .*loop-crush/],
    [{ fault: 'constructor' }, /there is no fault constructor/],
    [{ fault: 'shoe-lifts' }, /cannot be made: this rig has no shoes; known faults: /],
    [{ fault: 'loop-open', part: 'p' }, /has no parts, but p is named/],
    [{ fault: 'contactor-weld', part: 'q' }, /no part q on depot-cable; known parts: p, n$/],
    [{ fault: 'contactor-weld', part: 'pre' }, /known parts: p, n$/],
    [{ fault: 'raft-silent', part: 'raft5' }, /known parts: raft1, raft2, raft3, raft4$/],
    [{ fault: 'port-lost', part: 'elsewhere' }, /known parts: /],
    [{ fault: 'sensor-frozen', part: 'meter:volts' }, /meter has no field volts; known fields: currentA, /],
    [{ fault: 'sensor-frozen', part: 'meters' }, /known parts: .*meter.*role:field/],
    [{ fault: 'loop-open', magnitude: 2 }, /has no magnitude, but 2 is given/],
    [{ fault: 'loop-crush', magnitude: 0 }, /expected a number above 0 ohm/],
    [{ fault: 'loop-crush', magnitude: -5 }, /expected a number above 0 ohm/],
    [{ fault: 'loop-crush', magnitude: Number.NaN }, /expected a number above 0 ohm/],
    [{ fault: 'loop-crush', magnitude: Number.POSITIVE_INFINITY }, /expected a number above 0 ohm/],
    [{ fault: 'supply-sags', magnitude: 101 }, /expected 0 to 100 percent/],
    [{ fault: 'cells-cold', magnitude: -60 }, /expected -40 to 90 degC/],
    [{ fault: 'raft-alarm', magnitude: 3 }, /expected 1 to 2/],
    [{ fault: 'loop-open', afterS: -1 }, /afterS -1/],
    [{ fault: 'loop-open', durationS: Number.NaN }, /durationS NaN/],
    [
      { fault: 'loop-open', phase: 'charging' as never },
      /there is no phase charging; known phases: parked, /,
    ],
  ])('%j is turned away', (asked, why) => {
    expect(() => checkFault(asked, cable)).toThrow(why);
  });
  it('may freeze one field', () => {
    expect(checkFault({ fault: 'sensor-frozen', part: 'raft2:soc' }, cable).part).toBe('raft2:soc');
    expect(FAULTS['sensor-frozen'].part).toBe('meter');
  });
});
