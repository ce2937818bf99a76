/** The scenario files against what the trade asks for: every fault is there, under its name, with its end. */
import { describe, expect, it } from 'vitest';
import { CATALOGUE, type Code } from '../../src/checks/catalogue.js';
import { loadScenario, shippedScenarios } from '../../src/cli/scenarios-files.js';
import { loadRig } from '../../src/rig/load.js';

/** Name and exit of every scenario this project promises. */
const PROMISED: Readonly<Record<string, number>> = {
  clean: 0,
  'short-top-up': 0,
  'loop-opened': 3,
  'loop-crushed': 3,
  'loop-reversed': 3,
  'loop-leaky': 3,
  'isolation-one-pole': 3,
  'isolation-both-poles': 3,
  'contactor-welded': 9,
  'contactor-wont-close': 3,
  'auxiliary-lies': 3,
  'precharge-shorted': 3,
  'polarity-reversed': 3,
  'converter-overshoots': 3,
  'converter-steps': 3,
  'converter-wont-stop': 9,
  'current-reverses': 3,
  'reading-frozen': 3,
  'meter-disagrees': 3,
  'voltmeter-dead': 9,
  'link-silent': 9,
  'link-noisy': 0,
  'cell-too-high': 3,
  'cell-too-hot': 3,
  'cell-too-cold': 4,
  'cell-spread': 0,
  'raft-silent': 3,
  'rafts-apart': 0,
  'raft-drops-out': 0,
  'generator-raft-running': 4,
  'cable-overheats': 3,
  'contact-overheats': 3,
  'supply-sags': 3,
  'supply-dips': 0,
  'emergency-stop': 3,
  'plug-pulled': 3,
  'latch-wont-lock': 3,
  'bond-lost': 3,
  'train-moves': 3,
  'train-contactor-welded': 9,
  'bleeder-dead': 9,
  'journal-slow': 0,
  'journal-full': 3,
  'at-ceiling': 4,
  'restart-while-latched': 4,
  'shoe-lifts': 3,
  'shoe-poor-contact': 3,
};

describe('the scenario files', () => {
  it.each(Object.entries(PROMISED))('%s is there and declares exit %i', (name, exit) => {
    expect(loadScenario(name).expect.exit).toBe(exit);
  });
  it.each(shippedScenarios())('%s names itself, a shipped rig, and codes of the catalogue', (name) => {
    const { name: own, rig, expect: declared } = loadScenario(name);
    expect(own).toBe(name);
    expect(loadRig(rig).rig.name).toBe(rig);
    if (declared.code === undefined) return;
    expect(CATALOGUE).toHaveProperty(declared.code);
    if (declared.outcome === 'tripped') expect(CATALOGUE[declared.code as Code].effect).toBe(declared.effect);
  });
});
