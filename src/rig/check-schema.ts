/** Holds located YAML against a schema and says every fault in words, with its line. */
import { z } from 'zod';
import type { Fault } from '../host/input-error.js';
import { dotted, type Located, nodeAt, type PathKeys, placeOf } from './locate.js';
import { meantKey, unitOf } from './units.js';

type Issue = z.core.$ZodIssue;
/** The part of a JSON schema this file reads. */
interface Shape {
  readonly properties?: Readonly<Record<string, Shape>>;
  readonly items?: Shape;
}

/** Keys the schema knows at a path. */
function knownKeys(root: Shape, keys: PathKeys): string[] {
  let shape: Shape | undefined = root;
  for (const key of keys) shape = typeof key === 'number' ? shape?.items : shape?.properties?.[String(key)];
  return Object.keys(shape?.properties ?? {});
}

const KINDS: Readonly<Record<string, string>> = {
  object: 'keys with values below it',
  record: 'keys with values below it',
  array: 'a list',
  string: 'text',
  number: 'a number',
  int: 'a whole number',
  boolean: 'true or false',
};

function shown(node: Located | undefined): string {
  if (!node) return 'nothing';
  if (node.kind === 'map') return 'keys below it';
  if (node.kind === 'list') return `a list of ${node.items.length}`;
  return node.value === null ? 'nothing' : JSON.stringify(node.value);
}

function expected(issue: Issue, unit: string): string {
  const inUnit = unit ? ` ${unit}` : '';
  const many = (origin: string) =>
    origin === 'array' ? ' entries' : origin === 'string' ? ' characters' : inUnit;
  switch (issue.code) {
    case 'invalid_type':
      return `${KINDS[issue.expected] ?? issue.expected}${issue.expected === 'number' && unit ? ` in ${unit}` : ''}`;
    case 'too_small':
      return `${issue.inclusive ? 'at least' : 'above'} ${issue.minimum}${many(issue.origin)}`;
    case 'too_big':
      return `${issue.inclusive ? 'at most' : 'below'} ${issue.maximum}${many(issue.origin)}`;
    case 'invalid_value':
      return `one of ${issue.values.map(String).join(', ')}`;
    default:
      return issue.message;
  }
}

function messages(issue: Issue, root: Located, shape: Shape): Fault[] {
  const node = nodeAt(root, issue.path);
  const place = placeOf(root, issue.path);
  const path = dotted(issue.path);
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => {
      const at = [...issue.path, key];
      const meant = meantKey(key, knownKeys(shape, issue.path));
      const unit = meant ? unitOf(meant) : '';
      const hint = meant
        ? `, did you mean ${meant}${unit ? ` (unit ${unit})` : ''}`
        : ', it is not used here';
      return { ...placeOf(root, at), path: dotted(at), message: `unknown key${hint}` };
    });
  }
  // A limit's figure stands under `value`; its unit is that of the limit's own key.
  const last = issue.path.at(-1);
  const unit = unitOf(last === 'value' ? dotted(issue.path.slice(0, -1)) : path);
  const isBareLimit =
    issue.code === 'invalid_type' &&
    issue.expected === 'object' &&
    node?.kind === 'scalar' &&
    typeof node.value === 'number';
  if (isBareLimit && knownKeys(shape, issue.path).includes('source')) {
    const message = `found ${shown(node)}, expected { value: ${shown(node)}, source: who vouches for it }`;
    return [{ ...place, path, message }];
  }
  if (!node) return [{ ...place, path, message: `missing, expected ${expected(issue, unit)}` }];
  return [{ ...place, path, message: `found ${shown(node)}, expected ${expected(issue, unit)}` }];
}

export type Checked<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly faults: readonly Fault[]; readonly paths: readonly string[] };

/** All faults at once. `paths` are the dotted paths that hold no usable value. */
export function checkSchema<S extends z.ZodType>(
  schema: S,
  root: Located,
  data: unknown,
): Checked<z.output<S>> {
  const result = schema.safeParse(data);
  if (result.success) return { ok: true, value: result.data };
  const shape = z.toJSONSchema(schema, { io: 'input' }) as Shape;
  const { issues } = result.error;
  return {
    ok: false,
    faults: issues.flatMap((issue) => messages(issue, root, shape)),
    paths: issues.filter((issue) => issue.code !== 'unrecognized_keys').map((issue) => dotted(issue.path)),
  };
}
