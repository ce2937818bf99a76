/** Which class of engine set a rig's limits presume (ISO 8528-5, published, textbook table). */
import { describe, expect, it } from 'vitest';
import { neededClass } from '../../src/rig/generator-class.js';
import { loadRig } from '../../src/rig/load.js';

const { supply } = loadRig('depot-cable').rig;

describe('the class a rig presumes', () => {
  it.each([
    ['G3', 340, 46.5],
    ['G3', 339, 46],
    ['G3', 320, 46],
    ['G3', 321, 45],
    ['G2', 320, 45],
    ['G2', 300, 43],
    ['G1', 300, 42.5],
    ['G1', 250, 40],
    [null, 341, 46.5],
    [null, 340, 46.6],
  ] as const)('%s for %d V and %d Hz at the least', (needed, minVoltageV, minFrequencyHz) => {
    expect(neededClass({ ...supply, minVoltageV, minFrequencyHz })?.needed).toBe(needed);
  });

  it('is G3 for the depot, and none where there is no engine', () => {
    expect(neededClass(supply)?.needed).toBe('G3');
    expect(neededClass(loadRig('terminus-shoes').rig.supply)).toBeNull();
  });
});
