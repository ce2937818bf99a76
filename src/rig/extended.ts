/** A YAML file together with the files it extends. */
import path from 'node:path';
import { type Files, whyUnreadable } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { type Located, merge, parseYaml } from './locate.js';

const MAX_CHAIN = 8;

/** Where the files stand that were read, by the name they are shown under. */
export type Sources = Map<string, string>;

/**
 * Reads a file; where it says `extends: other.yaml` (relative to itself), that file is read first and this one
 * laid over it, see `merge`. The key itself is taken out. Faults of merging are added to `faults`, every file to
 * `sources`.
 * @throws InputError when a file cannot be read or parsed, or the chain closes on itself.
 */
export function readExtended(
  file: string,
  files: Files,
  faults: Fault[],
  sources: Sources = new Map(),
  chain: readonly string[] = [],
): Located {
  const shown = files.show(file);
  sources.set(shown, file);
  let text: string;
  try {
    text = files.readText(file);
  } catch (error) {
    throw new InputError(`${shown} cannot be read: ${whyUnreadable(error)}`);
  }
  const own = parseYaml(text, shown);
  if (own.kind !== 'map') throw new InputError(`${shown} cannot be used: it holds no keys`);
  const link = own.entries.get('extends');
  if (!link) return own;

  const refuse = (message: string): never => {
    throw new InputError(`${shown} cannot be used`, [{ ...link.place, path: 'extends', message }]);
  };
  if (link.kind !== 'scalar' || typeof link.value !== 'string') return refuse('expected the name of a file');
  const target = path.resolve(path.dirname(file), link.value);
  const above = [...chain, path.resolve(file)];
  if (above.includes(target)) {
    const round = [...above.slice(above.indexOf(target)), target].map((f) => path.basename(f));
    return refuse(`the files extend one another in a circle: ${round.join(' → ')}`);
  }
  if (above.length >= MAX_CHAIN) return refuse(`more than ${MAX_CHAIN} files extend one another`);
  if (!files.exists(target)) return refuse(`there is no file ${link.value} beside ${shown}`);

  const entries = new Map(own.entries);
  entries.delete('extends');
  return merge(readExtended(target, files, faults, sources, above), { ...own, entries }, faults);
}
