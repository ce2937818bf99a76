/** Rigs for a storm: shipped ones with some figures changed, read by the loader like any file a person writes. */
import path from 'node:path';
import { type Files, packageRoot, realFiles } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { type LoadedRig, loadRig } from '../rig/load.js';

const KEPT_AT_MOST = 64;
const known = new Map<string, LoadedRig>();

/** A shipped rig, read once. */
export function shipped(base: string): LoadedRig {
  const loaded = known.get(base) ?? loadRig(base);
  if (known.size < KEPT_AT_MOST) known.set(base, loaded);
  return loaded;
}

/**
 * @param set figures by dotted path
 * @throws InputError when the loader refuses the variant
 */
export function variant(base: string, set: Readonly<Record<string, number>>): LoadedRig {
  if (Object.keys(set).length === 0) return shipped(base);
  const folder = path.join(packageRoot(), 'config');
  const file = path.join(folder, `storm-${base}.yaml`);
  const tree: Tree = { extends: `${base}.yaml`, name: `storm-${base}`, title: 'A rig drawn for a storm' };
  const { sources } = shipped(base);
  for (const [at, value] of Object.entries(set)) {
    put(tree, at.split('.'), sources.has(at) ? { value, source: 'drawn for a storm' } : value);
  }
  const text = JSON.stringify(tree);
  const files: Files = {
    ...realFiles,
    exists: (f) => f === file || realFiles.exists(f),
    readText: (f, most) => (f === file ? text : realFiles.readText(f, most)),
  };
  return loadRig(file, files);
}

/** The variant, or null when the loader refuses it: a rig that cannot keep its own limits meets nobody. */
export function variantOrNull(base: string, set: Readonly<Record<string, number>>): LoadedRig | null {
  try {
    return variant(base, set);
  } catch (error) {
    if (error instanceof InputError) return null;
    throw error;
  }
}

type Tree = { [key: string]: unknown };
function put(tree: Tree, keys: readonly string[], value: unknown): void {
  const [first = '', ...rest] = keys;
  if (rest.length === 0) {
    tree[first] = value;
    return;
  }
  const branch = (tree[first] ?? {}) as Tree;
  tree[first] = branch;
  put(branch, rest, value);
}
