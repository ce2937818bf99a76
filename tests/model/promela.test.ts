/** The exporter to Promela: what it writes, without the model checker (`npm run cross-check` runs that). */
import { describe, expect, it } from 'vitest';
import { MACHINE_INVARIANT_IDS } from '../../machines/invariant-list.js';
import { sessionMachine } from '../../machines/session.js';
import { COMMANDS, TIMERS } from '../../machines/vocabulary.js';
import { STATED_BOUND } from '../../src/audit/explore/ends.js';
import { promelaOf } from '../../src/audit/explore/promela.js';
import { exploreAll } from '../../src/audit/explore/report.js';
import { brokenMachines } from './broken-machines.mjs';

const model = promelaOf(sessionMachine, STATED_BOUND);
const lines = model.split('\n');
const word = (name: string): string => name.replaceAll(/[-.]/g, '_');
const copyOf = (name: string): string => {
  const copy = brokenMachines(sessionMachine).find((c) => c.name === name);
  if (copy === undefined) throw new Error(`no copy ${name}`);
  return promelaOf(copy.machine, STATED_BOUND);
};

describe('the machine as Promela', () => {
  it('has each state of the machine once, numbered within the type that holds it', () => {
    const numbers = lines.flatMap((l) => /^\s*\/\* (\d+): /.exec(l)?.[1] ?? []).map(Number);
    expect(numbers).toEqual(numbers.map((_, i) => i));
    expect(numbers).toHaveLength(exploreAll().machineStates);
    expect(model).toContain('\nshort s;\n');
    expect(numbers.length).toBeLessThan(32_768);
  });
  it('leads from known states to known states only', () => {
    const states = exploreAll().machineStates;
    const targets = [...model.matchAll(/\bs = (\d+)/g)].map((m) => Number(m[1]));
    expect(targets.length).toBeGreaterThan(states);
    expect(Math.max(...targets)).toBe(states - 1);
  });
  it('names every command, timer and claim, and nothing that is not defined', () => {
    for (const c of COMMANDS) expect(model).toContain(`inline C_${word(c)}(on_match)`);
    for (const t of TIMERS) expect(model).toContain(`bit t_${word(t)};`);
    for (const id of MACHINE_INVARIANT_IDS) expect(model).toContain(`ltl ${id} { [] !bad${id.slice(1)} }`);
    const defined = new Set([...model.matchAll(/^inline (\w+)\(/gm)].map((m) => m[1]));
    const steps = lines.filter((l) => l.includes(':: d_step'));
    const called = steps.flatMap((l) => [...l.matchAll(/\b(\w+)\(/g)].map((m) => m[1]));
    expect([...new Set(called)].filter((name) => !defined.has(name))).toEqual([]);
  });
  it('writes a step as the machine takes it', () => {
    const start = lines.find((l) => l.includes('s == 0 && way == 0 -> /* start */'));
    expect(start).toMatch(
      /started = 1; C_lock\(1\); t_securing = 1; start_done\(0\); any_done\(0, 0, 0\); s = \d+;/,
    );
  });
  it('states the bounds it is given', () => {
    const other = promelaOf(sessionMachine, { ...STATED_BOUND, stop: 7 });
    expect(model).toContain(`way == 1 && steps > ${STATED_BOUND.stop}`);
    expect(other).toContain('way == 1 && steps > 7');
  });
  it('is the same each time, and another for another machine', () => {
    expect(promelaOf(sessionMachine, STATED_BOUND)).toBe(model);
    expect(copyOf('the plug is never locked')).not.toContain('C_lock(1);');
    expect(copyOf('a trip-1 while tapering is not heard')).not.toBe(model);
  });
});
