/** The machine walked exhaustively with its invariants on every edge, and copies of it that must be caught. */
import { describe, expect, it } from 'vitest';
import { INVARIANT_IDS, MACHINE_INVARIANT_IDS } from '../../machines/invariant-list.js';
import { brokenOnMachine, type MachineStep, NOTHING_YET } from '../../machines/invariants.js';
import { sessionMachine } from '../../machines/session.js';
import { STATED_BOUND } from '../../src/audit/explore/ends.js';
import { exploreAll } from '../../src/audit/explore/report.js';
import { brokenMachines } from './broken-machines.mjs';

describe('the machine explored', () => {
  const found = exploreAll();
  it('keeps every invariant on every edge, permitted or not', () => {
    expect(found.violations).toEqual([]);
  });
  it('tries every event in every state', () => {
    expect(found.edges + found.refused).toBe(found.states * found.events);
    expect(found.states).toBeGreaterThan(found.machineStates);
  });
  it('has no state that is never reached and no transition that is never taken', () => {
    expect(found.unmet.states).toEqual([]);
    expect(found.unmet.transitions).toEqual([]);
  });
  it('ends after stop, emergency stop and silence within a bound, and needs no answer for it', () => {
    expect(found.bound).toEqual(STATED_BOUND);
  });
});

describe('copies of the machine with one mistake', () => {
  const copies = brokenMachines(sessionMachine);
  it('cover every invariant the machine can break', () => {
    expect(new Set(copies.map((c) => c.breaks))).toEqual(new Set(MACHINE_INVARIANT_IDS));
    expect(MACHINE_INVARIANT_IDS).toEqual(['I1', 'I2', 'I4', 'I5', 'I6', 'I10', 'I12']);
    expect(INVARIANT_IDS).toHaveLength(12);
  });
  it.each(copies)('$name: caught by $breaks', ({ breaks, also, machine }) => {
    const { broken, violations } = exploreAll(machine);
    expect(broken).toEqual([breaks, ...also].sort());
    // The way there begins at a beginning and ends in the step that breaks it.
    expect(violations.find((v) => v.id === breaks)?.path[0]).toMatch(/^begin/);
  });
  it('leave the machine they were made from as it was', () => {
    expect(exploreAll().violations).toEqual([]);
  });
  it('a state or a transition that cannot be met is named', () => {
    const idle = copies.find((c) => c.name === 'isolation is skipped');
    expect(exploreAll(idle?.machine).unmet.states).toEqual(['checking-isolation']);
  });
});

it('judges one step as anyone can hand it in', () => {
  const flags = { path: 'match', rafts: 'none', trip: 'none', latched: false } as const;
  const step: MachineStep = {
    before: { state: 'parked', flags },
    event: 'start',
    taken: true,
    reached: { state: 'closing.pole-p', flags },
    commands: ['close-p'],
  };
  expect(brokenOnMachine(NOTHING_YET, step).map((b) => b.id)).toEqual(['I1', 'I12']);
});
