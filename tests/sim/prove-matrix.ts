/** The matrix of weaknesses and steps as tests: what was declared against what came out. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { expect, test } from 'vitest';
import { parse } from 'yaml';
import { type Charger, SOUND, WEAKNESSES } from '../../src/prove/charger.js';
import { applies, loadProcedures } from '../../src/prove/load.js';
import type { Step } from '../../src/prove/procedure.js';
import { runStep } from '../../src/prove/run-step.js';
import type { Verdict } from '../../src/prove/verdict.js';
import { loadRig } from '../../src/rig/load.js';

interface Declared {
  readonly sets: Readonly<Record<string, readonly string[]>>;
  readonly matrix: Readonly<
    Record<string, { rig?: string; fail?: readonly string[]; inconclusive?: readonly string[] }>
  >;
}
const FILE = path.resolve(import.meta.dirname, '../data/prove-matrix.yaml');
const { sets, matrix }: Declared = parse(readFileSync(FILE, 'utf8'));

export const RIG = 'depot-cable';
const SEED = 12345;
export const declaredWeaknesses = (): readonly string[] => Object.keys(matrix);
export const rigOf = (weakness: string): string => matrix[weakness]?.rig ?? RIG;

const spelled = (names: readonly string[] = []): string[] => names.flatMap((name) => sets[name] ?? [name]);

/** By `procedure/step`; what is not in it must pass. The first is meant for the weakness. */
export function declared(weakness: string): Map<string, Verdict> {
  const { fail, inconclusive } = matrix[weakness] ?? {};
  return new Map<string, Verdict>([
    ...spelled(fail).map((name) => [name, 'fail'] as const),
    ...spelled(inconclusive).map((name) => [name, 'inconclusive'] as const),
  ]);
}

/** Every step that this rig can have, by `procedure/step`. */
export function stepsOf(rig: string): Map<string, Step> {
  const steps = known.get(rig) ?? loadSteps(rig);
  known.set(rig, steps);
  return steps;
}
const known = new Map<string, Map<string, Step>>();

function loadSteps(rig: string): Map<string, Step> {
  const loaded = loadRig(rig);
  const steps = loadProcedures('all', loaded).flatMap(({ procedure }) =>
    procedure.steps.map((step) => [`${procedure.name}/${step.step}`, step] as const),
  );
  return new Map(steps.filter(([, step]) => applies(step, loaded)));
}

export async function verdictOf(charger: Charger, rig: string, name: string): Promise<Verdict> {
  const step = stepsOf(rig).get(name);
  if (step === undefined) throw new Error(`no step ${name} on ${rig}`);
  return (await runStep(step, loadRig(rig), charger, SEED)).verdict;
}

/** A half of the matrix, whole when it is asked for, else the step meant for each weakness. @param shard 0 or 1 */
export function halfOfMatrix(shard: number): void {
  const rows = ['sound', ...Object.keys(WEAKNESSES)].filter((_, i) => i % 2 === shard);
  if (process.env.PROVE_MATRIX) wholeRows(rows);
  else
    test.each(rows.filter((row) => row !== 'sound'))('%s is found by the step meant for it', async (row) => {
      const [[step, verdict] = ['', 'pass']] = declared(row);
      expect(await verdictOf(WEAKNESSES[row] as Charger, rigOf(row), step)).toBe(verdict);
    });
}

function wholeRows(rows: readonly string[]): void {
  test.each(rows)('%s: every step comes out as declared', { timeout: 180_000 }, async (row) => {
    const found: Record<string, Verdict> = {};
    for (const name of stepsOf(rigOf(row)).keys()) {
      const verdict = await verdictOf(WEAKNESSES[row] ?? SOUND, rigOf(row), name);
      if (verdict !== 'pass') found[name] = verdict;
    }
    expect(found).toEqual(Object.fromEntries(declared(row)));
  });
}
