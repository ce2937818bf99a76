/**
 * YAML with its places kept: every value knows the file and line it came from, also after one file has
 * extended another. A fault can then name the line a person must change.
 */
import { isMap, isScalar, isSeq, LineCounter, parseDocument } from 'yaml';
import { type Fault, InputError } from '../host/input-error.js';

export interface Place {
  readonly file: string;
  /** From 1. For a value in a map: the line of its key. */
  readonly line: number;
}
export type Scalar = string | number | boolean | null;
export type Located =
  | { readonly kind: 'map'; readonly place: Place; readonly entries: ReadonlyMap<string, Located> }
  | { readonly kind: 'list'; readonly place: Place; readonly items: readonly Located[] }
  | { readonly kind: 'scalar'; readonly place: Place; readonly value: Scalar };
export type PathKeys = readonly PropertyKey[];

const MAX_DEPTH = 24;
/** An assignment to this key would not make a key. */
const FORBIDDEN_KEY = '__proto__';

export const dotted = (keys: PathKeys): string => keys.map(String).join('.');

/** Documents read last, by file and text: variants of one rig share their base, and what was read never changes. */
const read = new Map<string, Located>();
const KEPT_AT_MOST = 16;

/** Parses one document. @throws InputError with every syntax fault. */
export function parseYaml(text: string, file: string): Located {
  const key = `${file}\n${text}`;
  const root = read.get(key) ?? parse(text, file);
  // The one used last stands last: the first is the one to let go.
  read.delete(key);
  read.set(key, root);
  const [oldest] = read.keys();
  if (read.size > KEPT_AT_MOST && oldest !== undefined) read.delete(oldest);
  return root;
}

function parse(text: string, file: string): Located {
  const counter = new LineCounter();
  const document = parseDocument(text, { lineCounter: counter, prettyErrors: false, uniqueKeys: true });
  const lineAt = (offset: number | undefined) =>
    offset === undefined ? 1 : Math.max(1, counter.linePos(offset).line);
  const faults: Fault[] = [...document.errors, ...document.warnings].map((e) => ({
    file,
    line: lineAt(e.pos[0]),
    path: '',
    message: `not valid YAML: ${e.message}`,
  }));

  const convert = (node: unknown, line: number, path: PathKeys): Located => {
    const place = { file, line };
    const refuse = (message: string): Located => {
      faults.push({ file, line, path: dotted(path), message });
      return { kind: 'scalar', place, value: null };
    };
    if (path.length > MAX_DEPTH) return refuse(`nested deeper than ${MAX_DEPTH} levels`);
    if (isMap(node)) {
      const entries = new Map<string, Located>();
      for (const pair of node.items) {
        const key = isScalar(pair.key) ? String(pair.key.value) : null;
        const keyLine = lineAt(isScalar(pair.key) ? pair.key.range?.[0] : node.range?.[0]);
        if (key === null || key === FORBIDDEN_KEY) {
          faults.push({ file, line: keyLine, path: dotted(path), message: 'a key must be a plain word' });
          continue;
        }
        entries.set(key, convert(pair.value, keyLine, [...path, key]));
      }
      return { kind: 'map', place, entries };
    }
    if (isSeq(node)) {
      const items = node.items.map((item, i) => {
        const range = (item as { range?: readonly number[] }).range;
        return convert(item, lineAt(range?.[0]), [...path, i]);
      });
      return { kind: 'list', place, items };
    }
    if (node === null || node === undefined) return { kind: 'scalar', place, value: null };
    if (isScalar(node)) {
      const { value } = node;
      if (
        value === null ||
        typeof value === 'string' ||
        typeof value === 'number' ||
        typeof value === 'boolean'
      ) {
        return { kind: 'scalar', place, value };
      }
      return refuse(`found a value of a kind not used here (${typeof value})`);
    }
    // An alias repeats by reference; `extends` repeats by name, with the line kept.
    return refuse('anchors and aliases are not used here: write the value out, or use `extends`');
  };

  const root = convert(document.contents, 1, []);
  if (faults.length > 0) throw new InputError(`${file} cannot be read`, faults);
  return root;
}

/** Plain data, as a schema wants it. */
export function plain(node: Located): unknown {
  if (node.kind === 'scalar') return node.value;
  if (node.kind === 'list') return node.items.map(plain);
  return Object.fromEntries([...node.entries].map(([key, child]) => [key, plain(child)]));
}

/** The node at a path, or undefined. */
export function nodeAt(root: Located, keys: PathKeys): Located | undefined {
  let node: Located | undefined = root;
  for (const key of keys) {
    if (node?.kind === 'map') node = node.entries.get(String(key));
    else if (node?.kind === 'list') node = node.items[Number(key)];
    else return undefined;
  }
  return node;
}

/** Where the value at a path stands or, when it is missing, where the nearest map or list around it stands. */
export function placeOf(root: Located, keys: PathKeys): Place {
  for (let length = keys.length; length > 0; length--) {
    const node = nodeAt(root, keys.slice(0, length));
    if (node) return node.place;
  }
  return root.place;
}

const isVouched = (node: Located | undefined): node is Extract<Located, { kind: 'map' }> =>
  node?.kind === 'map' && node.entries.has('value') && node.entries.has('source');

/**
 * `over` on top of `base`: maps are merged key by key, anything else (lists too) replaces, and an empty value
 * (`precharge: null`) takes the key away. A limit whose value is changed must bring its own source: the one
 * who vouched for the old figure has said nothing about the new one.
 */
export function merge(base: Located, over: Located, faults: Fault[], path: PathKeys = []): Located {
  if (base.kind !== 'map' || over.kind !== 'map') return over;
  if (isVouched(base) && over.entries.has('value') && !over.entries.has('source')) {
    faults.push({
      ...over.place,
      path: dotted(path),
      message: 'the value is changed but its source is not: state `source` beside the new value',
    });
  }
  const entries = new Map(base.entries);
  for (const [key, value] of over.entries) {
    const below = entries.get(key);
    if (value.kind === 'scalar' && value.value === null) entries.delete(key);
    else entries.set(key, below ? merge(below, value, faults, [...path, key]) : value);
  }
  return { kind: 'map', place: over.place, entries };
}
