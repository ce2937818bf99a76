/**
 * What of a faulty file can still be held against its rules, so that all faults show at once: unknown keys are left
 * out, then values that cannot be read, then the entries of lists that cannot do without them. Paths lead to the file
 * as it is: an entry keeps its number though others before it were left out.
 */
import type { z } from 'zod';
import { dotted, type PathKeys } from '../rig/locate.js';

export interface Mended<T> {
  readonly value: T;
  /** From a path in what was mended to the one in the file; null next to what was left out, of which nothing is sure. */
  readonly inFile: (path: PathKeys) => PathKeys | null;
}

type Node = Record<PropertyKey, unknown>;
const MOST_ROUNDS = 400;
/** For what is required at the top: neither is told of. */
const STAND_INS: readonly unknown[] = [1, 'x', '00:00', '24:00', [], {}];

/** @returns null where too little is left */
export function mend<S extends z.ZodType>(schema: S, data: unknown): Mended<z.output<S>> | null {
  const root = structuredClone(data) as Node;
  if (typeof root !== 'object' || root === null) return null;
  /** By the path of a list in the file: numbers that were left out. */
  const out = new Map<string, Set<number>>();
  const emptied = new Set<string>();
  const stood = new Map<string, number>();

  const inFile = (keys: PathKeys): PathKeys => {
    const path: PropertyKey[] = [];
    for (const key of keys) {
      if (typeof key !== 'number') path.push(key);
      else {
        const gone = out.get(dotted(path)) ?? new Set();
        let [index, left] = [0, key];
        for (; gone.has(index) || left > 0; index++) if (!gone.has(index)) left -= 1;
        path.push(index);
      }
    }
    return path;
  };
  const parentOf = (keys: PathKeys): Node | undefined =>
    keys.slice(0, -1).reduce<unknown>((node, key) => (node as Node | undefined)?.[key], root) as Node;

  const leaveOut = (keys: PathKeys): boolean => {
    const last = keys.findLastIndex((key) => typeof key === 'number');
    if (last < 0) return standIn(keys);
    const listPath = keys.slice(0, last);
    const list = dotted(inFile(listPath));
    const number = inFile(keys.slice(0, last + 1)).at(-1) as number;
    out.set(list, (out.get(list) ?? new Set()).add(number));
    (parentOf(keys.slice(0, last + 1)) as unknown as unknown[]).splice(keys[last] as number, 1);
    return true;
  };
  const standIn = (keys: PathKeys): boolean => {
    const parent = parentOf(keys);
    const tried = stood.get(dotted(keys)) ?? 0;
    if (parent === undefined || keys.length === 0 || tried >= STAND_INS.length) return false;
    stood.set(dotted(keys), tried + 1);
    parent[keys.at(-1)!] = STAND_INS[tried];
    return true;
  };

  for (let round = 0; round < MOST_ROUNDS; round++) {
    const result = schema.safeParse(root);
    if (result.success)
      return {
        value: result.data,
        inFile: (path) => (isSure(path, inFile(path), out, stood) ? inFile(path) : null),
      };
    const [issue] = result.error.issues;
    if (issue === undefined) return null;
    const { path } = issue;
    if (issue.code === 'unrecognized_keys') {
      const node = parentOf([...path, ''])!;
      for (const key of issue.keys) delete node[key];
      continue;
    }
    const inList = path.some((key) => typeof key === 'number') && typeof path.at(-1) !== 'number';
    const name = dotted(inFile(path));
    if (inList && !emptied.has(name)) {
      emptied.add(name);
      delete parentOf(path)![path.at(-1)!];
    } else if (!leaveOut(path)) return null;
  }
  return null;
}

/** Neither a stand-in nor right behind an entry that was left out. */
function isSure(
  path: PathKeys,
  file: PathKeys,
  out: ReadonlyMap<string, ReadonlySet<number>>,
  stood: ReadonlyMap<string, number>,
): boolean {
  if (stood.has(dotted(path))) return false;
  return file.every(
    (key, i) => typeof key !== 'number' || out.get(dotted(file.slice(0, i)))?.has(key - 1) !== true,
  );
}
