/**
 * The machine against the table that was reviewed, edge by edge. The machine is loaded inside the tests: a definition
 * that does not even load is then a failed test with a name, and not a file without tests.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { differences, EDGES_FILE, fileText, RENEW } from './edges-file.mjs';

const reviewed = readFileSync(EDGES_FILE, 'utf8');
const tableOf = async (copy?: string): Promise<string> => {
  const { edgeTable } = await import('../../src/audit/explore/edge-table.js');
  if (copy === undefined) return fileText(edgeTable());
  const { brokenMachines } = await import('./broken-machines.mjs');
  const { sessionMachine } = await import('../../machines/session.js');
  return fileText(edgeTable(brokenMachines(sessionMachine).find((c) => c.name === copy)?.machine));
};

describe('the table of edges', () => {
  it('uses every event, timer and command of the vocabulary, and no other word', async () => {
    const { COMMANDS, EVENT_TYPES, TIMERS } = await import('../../machines/vocabulary.js');
    const edges = reviewed.split('\n').filter((line) => /^ {2}(?!with )/.test(line));
    const used = (words: (edge: string) => string[]): string[] => [...new Set(edges.flatMap(words))].sort();
    const commandsOf = (edge: string): string[] => {
      const [first = '', ...more] = edge.replace(/ {2}\[only with .*/, '').split(', ');
      return [first.split(' ').at(-1) ?? '', ...more].filter((word) => word !== '–');
    };
    expect(used((edge) => [edge.trim().split(' ')[0] ?? ''])).toEqual([...EVENT_TYPES].sort());
    expect(used((edge) => [...edge.matchAll(/ [+-]([a-z-]+)/g)].map((m) => m[1] ?? ''))).toEqual(
      [...TIMERS].sort(),
    );
    expect(used(commandsOf)).toEqual([...COMMANDS].sort());
  });
  it('stands beside a list of invariants that loads, too', async () => {
    const { MACHINE_INVARIANT_IDS } = await import('../../machines/invariant-list.js');
    expect(MACHINE_INVARIANT_IDS).toContain('I10');
  });
  it('is what the machine does', async () => {
    const changed = differences(reviewed, await tableOf());
    const advice = `the machine is no longer what tests/model/edges.txt says (- then, + now); if that is meant: ${RENEW}, and have the difference reviewed`;
    expect(changed, advice).toEqual([]);
  });
  it('is written as the command writes it', async () => {
    expect(reviewed).toBe(await tableOf());
  });
});

describe('what differs', () => {
  it('names an edge that leads elsewhere, and what cannot be reached any more', async () => {
    const changed = differences(reviewed, await tableOf('isolation is skipped'));
    const joining = 'joining-train.closing-train';
    const start = '-proving-presence +joining-train isolation-off, close-train';
    expect(changed).toContain(
      '- proving-presence: presence checking-isolation – -proving-presence +checking-isolation –',
    );
    expect(changed).toContain(`+ proving-presence: presence ${joining} – ${start}`);
    expect(changed).toContain('+ checking-isolation: never reached');
    expect(changed.filter((line) => !/^. (proving-presence|checking-isolation): /.test(line))).toEqual([]);
  });
  it('names an event that is no longer heard', async () => {
    expect(differences(reviewed, await tableOf('a trip-1 while tapering is not heard'))).toEqual([
      '- tapering: trip-1 tripped-ramping-down trip=trip-1 latched=true +tripped-ramping-down set-latch, ramp-down',
    ]);
  });
  it('names a command that is no longer ordered', async () => {
    const changed = differences(reviewed, await tableOf('the plug is never locked'));
    expect(changed.map((line) => line.replace(/ \[.*/, ''))).toEqual([
      '- parked: start securing – +securing lock',
      '+ parked: start securing – +securing –',
    ]);
  });
  it('takes neither the width of a column nor the order of the lines for a difference', () => {
    expect(differences('# a\nparked  (x)\n  start    securing\n', 'parked  (x)\n  start securing\n')).toEqual(
      [],
    );
    expect(differences('a  (x)\n  e f\n  g h\n', 'a  (x)\n  g h\n  e f\n')).toEqual([]);
    expect(differences('a  (x)\n  e f\nb  (x)\n', 'a  (x)\nb  (x)\n  e f\n')).toEqual([
      '- a: e f',
      '+ b: e f',
    ]);
  });
});
