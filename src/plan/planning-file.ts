/**
 * Files that a plan is made of: routes, timetables, stores, tariffs, renewables. A bare name is one that comes with the
 * package; anything else is a path. Every fault of a file is said at once, with its line.
 */
import path from 'node:path';
import { z } from 'zod';
import { type Files, packageRoot, realFiles, whyUnreadable } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { checkSchema } from '../rig/check-schema.js';
import { dotted, type Located, type PathKeys, parseYaml, placeOf, plain } from '../rig/locate.js';
import { mend } from './mend.js';

export interface FileKind<S extends z.ZodType> {
  /** For people, e.g. `route`. */
  readonly name: string;
  /** Below `config/`. */
  readonly folder: string;
  readonly schema: S;
  /** What no schema can say. */
  readonly rules?: (value: z.output<S>, say: SayFault) => void;
}

export type SayFault = (at: PathKeys, message: string) => void;

const BARE_NAME = /^[a-z0-9][a-z0-9-]*$/;

/** @param beside a folder in which a bare name is looked for first */
export function planningPath(
  { name, folder }: FileKind<z.ZodType>,
  nameOrPath: string,
  files: Files,
  beside: string | null = null,
): string {
  if (!BARE_NAME.test(nameOrPath))
    return beside === null || path.isAbsolute(nameOrPath) ? nameOrPath : path.join(beside, nameOrPath);
  const own = path.join(packageRoot(files), 'config', folder);
  for (const place of [...(beside === null ? [] : [beside]), own]) {
    const file = path.join(place, `${nameOrPath}.yaml`);
    if (files.exists(file)) return file;
  }
  const known = files
    .list(own)
    .filter((f) => f.endsWith('.yaml'))
    .map((f) => f.slice(0, -'.yaml'.length));
  throw new InputError(
    `there is no ${name} named ${nameOrPath}; known names: ${known.join(', ')}; or give the path of a file`,
  );
}

export interface Read<T> {
  readonly value: T;
  readonly file: string;
  readonly root: Located;
}

/**
 * @param more rules that need what other files say
 * @throws InputError naming every fault with file and line
 */
export function readPlanning<S extends z.ZodType>(
  kind: FileKind<S>,
  nameOrPath: string,
  files: Files = realFiles,
  more: (value: z.output<S>, say: SayFault) => void = () => {},
): Read<z.output<S>> {
  const file = planningPath(kind, nameOrPath, files);
  const shown = files.show(file);
  let text: string;
  try {
    text = files.readText(file);
  } catch (error) {
    throw new InputError(`${kind.name} ${shown} cannot be read: ${whyUnreadable(error)}`);
  }
  const root = parseYaml(text, shown);
  const data = plain(root);
  const checked = checkSchema(kind.schema, root, data);
  const faults: Fault[] = checked.ok ? [] : [...checked.faults];
  const usable = checked.ok
    ? { value: checked.value, inFile: (at: PathKeys): PathKeys | null => at }
    : mend(kind.schema, data);
  if (usable !== null) {
    const say: SayFault = (keys, message) => {
      const at = usable.inFile(keys);
      if (at !== null) faults.push({ ...placeOf(root, at), path: dotted(at), message });
    };
    kind.rules?.(usable.value, say);
    more(usable.value, say);
  }
  if (!checked.ok || faults.length > 0)
    throw new InputError(
      `${kind.name} ${shown} cannot be used`,
      faults.sort((a, b) => a.line - b.line),
    );
  return { value: checked.value, file, root };
}

/** The schema of a kind of file, for editors. */
export function planningJsonSchema({ name, schema }: FileKind<z.ZodType>): Record<string, unknown> {
  const { $schema, ...whole } = z.toJSONSchema(schema, { io: 'input' });
  return {
    $schema,
    title: `loopwarden ${name}`,
    description:
      'Live DC kills. A plan is reckoned, not proven: a competent person must confirm its figures. Units end the keys.',
    ...whole,
  };
}
