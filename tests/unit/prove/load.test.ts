/** Procedure files: what is wrong with one is told at once, all of it, with its lines. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { packageRoot, realFiles } from '../../../src/host/files.js';
import { InputError } from '../../../src/host/input-error.js';
import { procedureJsonSchema } from '../../../src/prove/json-schema.js';
import { applies, loadProcedures, onlyStep, shippedProcedures } from '../../../src/prove/load.js';
import { plan } from '../../../src/prove/plan.js';
import { loadRig } from '../../../src/rig/load.js';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-prove-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const loaded = loadRig('depot-cable');

const GOOD = `name: one
title: A procedure
why: Somebody would be hurt.
steps:
  - step: pressed
    title: The button is pressed
    protection: { name: the relay, by: hard-wired, relay: stop-button, evidence: its contact }
    wish: { maxCurrentA: 30 }
    inject:
      - { fault: stop-pressed, phase: ramping }
    observe: { codes: [stop-chain-open], forMs: 400 }
    ends: { outcome: tripped, exit: 3 }
    see:
      - { time: relay, withinMs: { value: 12, source: common practice } }
`;
/** What is said of the file after a change. */
function told(...changes: readonly (readonly [string, string])[]): string {
  let text = GOOD;
  for (const [from, to] of changes) {
    expect(text).toContain(from);
    text = text.replace(from, to);
  }
  const file = path.join(folder, 'bad.yaml');
  writeFileSync(file, text);
  try {
    loadProcedures(file, loaded);
  } catch (error) {
    if (error instanceof InputError) return error.message;
    throw error;
  }
  return '';
}

describe('a procedure file', () => {
  it('is taken as it is', () => expect(told()).toBe(''));

  it.each([
    ['an unknown event', ['time: relay', 'time: relays'], /bad\.yaml:14/],
    ['an unknown fault', ['stop-pressed', 'stop-presst'], /bad\.yaml:10/],
    ['an unknown code', ['[stop-chain-open]', '[stop-chain]'], /bad\.yaml:11/],
    ['a key nobody knows', ['evidence:', 'proof: 1, evidence:'], /bad\.yaml:7.*proof/],
    [
      'a hard-wired one without observe',
      ['    observe: { codes: [stop-chain-open], forMs: 400 }\n', ''],
      /bad\.yaml:5.*needs `observe`/,
    ],
    ['a hard-wired one without its relay', ['relay: stop-button, ', ''], /bad\.yaml:5.*needs `relay`/],
    [
      'observe where nothing is hard-wired',
      ['by: hard-wired, relay: stop-button', 'by: device'],
      /bad\.yaml:5.*`observe`/,
    ],
    [
      'more current than may be observed',
      ['maxCurrentA: 30', 'maxCurrentA: 30.1'],
      /bad\.yaml:8.*30 A \(a tenth of the rated current\)/,
    ],
    ['no limit of the current at all', ['{ maxCurrentA: 30 }', '{}'], /bad\.yaml:8.*found none/],
    ['looking on for too long', ['forMs: 400', 'forMs: 2001'], /bad\.yaml:11/],
    ['a limit without a source', [', source: common practice', ''], /bad\.yaml:14/],
    [
      'a figure the rig has not',
      ['{ value: 12, source: common practice }', '{ rig: contactors.openMillis }'],
      /bad\.yaml:14.*contactors\.openMillis, expected a figure of the rig/,
    ],
    [
      'two faults that would both be timed',
      [
        '      - { fault: stop-pressed, phase: ramping }\n',
        '      - { fault: stop-pressed, phase: ramping }\n      - { fault: bond-lost, phase: ramping }\n',
      ],
      /bad\.yaml:5.*only one fault can be timed/,
    ],
    ['no YAML', ['name: one', 'name: [one'], /bad\.yaml:\d+.*not valid YAML/],
  ] as const)('with %s is refused, and the line named', (_, change, message) => {
    const text = told(change);
    expect(text).toMatch(/^(procedure )?.*bad\.yaml cannot be (used|read)/);
    expect(text).toMatch(message);
  });

  it('tells all that is wrong at once', () => {
    const text = told(
      ['time: relay', 'time: relays'],
      ['stop-pressed', 'stop-presst'],
      ['exit: 3', 'exit: 33'],
    );
    for (const line of [10, 12, 14]) expect(text).toMatch(new RegExp(`bad\\.yaml:${line}\\b`));
  });

  it('with two steps by one name is refused, with the line of the second', () => {
    const second = GOOD.slice(GOOD.indexOf('  - step:'));
    const file = path.join(folder, 'twice.yaml');
    writeFileSync(file, GOOD + second);
    expect(() => loadProcedures(file, loaded)).toThrow(/twice\.yaml:15.*found pressed twice/);
  });

  it('that is not there is told, with those that are', () => {
    expect(() => loadProcedures('nothing', loaded)).toThrow(
      /no procedure named nothing; known names: all, contactors, /,
    );
    expect(() => loadProcedures('./nothing.yaml', loaded)).toThrow(/nothing\.yaml cannot be read/);
    expect(() => onlyStep(loadProcedures('plug', loaded), 'nothing')).toThrow(
      'there is no step named nothing; known steps: pulled-under-load, shoe-lifts',
    );
  });
});

describe('the shipped procedures', () => {
  it.each(['depot-cable', 'depot-split', 'terminus-shoes', 'yard-precharge', 'yard-generator'])(
    'can be used on %s',
    (rig) => expect(loadProcedures('all', loadRig(rig))).toHaveLength(shippedProcedures().length),
  );

  it('are written for editors: the schema is in step, and every file names it', () => {
    const text = realFiles.readText(path.join(packageRoot(), 'config', 'procedure.schema.json'));
    expect(JSON.parse(text)).toEqual(procedureJsonSchema());
    for (const name of shippedProcedures()) {
      const file = realFiles.readText(path.join(packageRoot(), 'config', 'procedures', `${name}.yaml`));
      expect(file, name).toMatch(/^# yaml-language-server: \$schema=\.\.\/procedure\.schema\.json\n/);
      expect(file, name).toContain('LIVE DC KILLS');
      expect((parse(file) as { name: string }).name).toBe(name);
    }
  });

  it('leave out what a rig has not, and only that', () => {
    const leftOut = (rig: string): string[] =>
      loadProcedures('all', loadRig(rig)).flatMap(({ procedure }) =>
        procedure.steps.filter((s) => !applies(s, loadRig(rig))).map((s) => `${procedure.name}/${s.step}`),
      );
    expect(leftOut('yard-precharge')).toEqual(['plug/shoe-lifts']);
    expect(leftOut('terminus-shoes').filter((s) => !/^(pilot-loop|precharge)\//.test(s))).toEqual([
      'plug/pulled-under-load',
      'temperature/cable-hot',
    ]);
  });
});

describe('the plan', () => {
  const procedures = loadProcedures('plug', loaded);
  const all = loadProcedures('all', loaded);

  it('numbers every run once, and gives each a seed of its own that no other run changes', () => {
    const runs = plan(all, loaded, 1, 2);
    expect(runs.map((r) => r.index)).toEqual(runs.map((_, k) => k));
    expect(new Set(runs.map((r) => r.seed)).size).toBe(runs.length);
    const alone = plan(procedures, loaded, 1, 2);
    expect(alone.map((r) => r.seed)).toEqual(runs.filter((r) => r.procedure === 'plug').map((r) => r.seed));
    expect(plan(procedures, loaded, 2, 2)[0]?.seed).not.toBe(alone[0]?.seed);
  });

  it('repeats each step as often as it says, or as was asked', () => {
    const often = (repeat: number | null) => plan(procedures, loaded, 1, repeat).map((r) => r.repeat);
    expect(often(null)).toEqual([1, 2, 3]);
    expect(often(1)).toEqual([1]);
  });
});
