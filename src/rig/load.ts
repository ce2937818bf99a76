/** From a rig file to a rig one may run: read, extended, checked, its figures held against each other, frozen. */
import { createHash } from 'node:crypto';
import path from 'node:path';
import { type Files, packageRoot, realFiles } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { canonicalJson } from './canonical-json.js';
import { checkSchema } from './check-schema.js';
import { readExtended, type Sources } from './extended.js';
import { checkInstrument, checkLoad, instrumentPath } from './instrument-load.js';
import type { InstrumentMap } from './instrument-schema.js';
import { type Located, nodeAt, plain } from './locate.js';
import { checkRules } from './rules.js';
import { type Rig, rigSchema } from './schema.js';

export interface LoadedRig {
  /** Deep-frozen. */
  readonly rig: Rig;
  /** Who vouches for each limit, by its dotted path, e.g. `isolation.minOhmPerVolt`. */
  readonly sources: ReadonlyMap<string, string>;
  /** Command maps of the instruments that stand behind ports, by the name of the port; deep-frozen. */
  readonly instruments: ReadonlyMap<string, InstrumentMap>;
  /** SHA-256, hex, of the canonical JSON of `rig`: two files with the same figures have the same hash. */
  readonly hash: string;
  /** As shown to people. */
  readonly file: string;
  /** What is permitted but worth knowing. */
  readonly warnings: readonly Fault[];
}

const BARE_NAME = /^[a-z0-9][a-z0-9-]*$/;

/** Names of the rigs that come with the package. */
export function shippedRigs(files: Files = realFiles): string[] {
  return files
    .list(path.join(packageRoot(files), 'config'))
    .filter((entry) => entry.endsWith('.yaml'))
    .map((entry) => entry.slice(0, -'.yaml'.length));
}

/** A bare name (`depot-cable`) is a rig that comes with the package; anything else is a path. */
export function rigPath(nameOrPath: string, files: Files = realFiles): string {
  if (!BARE_NAME.test(nameOrPath)) return nameOrPath;
  const file = path.join(packageRoot(files), 'config', `${nameOrPath}.yaml`);
  if (files.exists(file)) return file;
  const names = shippedRigs(files).join(', ');
  throw new InputError(
    `there is no rig named ${nameOrPath}; known names: ${names}; or give the path of a file`,
  );
}

/** @throws InputError naming every fault with file and line. */
export function loadRig(nameOrPath: string, files: Files = realFiles): LoadedRig {
  const file = rigPath(nameOrPath, files);
  const shown = files.show(file);
  const faults: Fault[] = [];
  const sources: Sources = new Map();
  const root = readExtended(file, files, faults, sources);
  const data = plain(root);
  const checked = checkSchema(rigSchema, root, data);
  if (!checked.ok) faults.push(...checked.faults);

  faults.push(...ownName(root, shown));

  // The figures that could be read are still held against each other, so that all faults show at once.
  const { faults: broken, warnings } = checkRules(checked, data, root);
  faults.push(...broken);
  if (!checked.ok || faults.length > 0) throw new InputError(`rig ${shown} cannot be used`, inOrder(faults));

  const instruments = readInstruments(checked.value, root, sources, files);
  const rig = deepFreeze(withMaps(checked.value, instruments));
  const hash = createHash('sha256').update(canonicalJson(rig)).digest('hex');
  return { rig, sources: sourcesOf(root), instruments, hash, file: shown, warnings: inOrder(warnings) };
}

/**
 * The rig with the command maps at their ports, so that hash and journal hold what was used. Nothing reads them there
 * but people and audits.
 */
function withMaps(rig: Rig, instruments: ReadonlyMap<string, InstrumentMap>): Rig {
  if (instruments.size === 0) return rig;
  const ports = rig.link.ports.map((port) => {
    const map = instruments.get(port.name);
    return map === undefined ? port : { ...port, map };
  });
  return { ...rig, link: { ...rig.link, ports } };
}

/** @throws InputError with every fault of every map */
function readInstruments(
  rig: Rig,
  root: Located,
  sources: Sources,
  files: Files,
): Map<string, InstrumentMap> {
  const maps = new Map<string, InstrumentMap>();
  const faults: Fault[] = [];
  const unusable: string[] = [];
  rig.link.ports.forEach((port, p) => {
    if (port.instrument === undefined) return;
    const file = instrumentPath(root, sources, p, port.instrument);
    const before = faults.length;
    const map = checkInstrument(readExtended(file, files, faults), rig, port, faults);
    if (map !== null) maps.set(port.name, deepFreeze(map));
    if (faults.length > before) unusable.push(files.show(file));
  });
  if (faults.length > 0)
    throw new InputError(`instrument ${unusable.join(' and ')} cannot be used`, inOrder(faults));
  return maps;
}

/** The map of a load. @throws InputError */
export function loadLoad(
  file: string,
  line: { readonly baud: number; readonly pollMs: number },
  files: Files = realFiles,
): InstrumentMap {
  const faults: Fault[] = [];
  const map = checkLoad(readExtended(instrumentFile(file, files), files, faults), line, faults);
  if (map === null || faults.length > 0)
    throw new InputError(`instrument ${files.show(file)} cannot be used`, inOrder(faults));
  return deepFreeze(map);
}

/** A bare name is a map that comes with the package. */
function instrumentFile(nameOrPath: string, files: Files): string {
  if (!BARE_NAME.test(nameOrPath)) return nameOrPath;
  const file = path.join(packageRoot(files), 'config', 'instruments', `${nameOrPath}.yaml`);
  return files.exists(file) ? file : nameOrPath;
}

/** Journals and trip latches are kept by name: a variant under its base's name would share them. */
function ownName(root: Located, shown: string): Fault[] {
  return ['name', 'title']
    .map((key) => ({ key, node: nodeAt(root, [key]) }))
    .filter(({ node }) => node !== undefined && node.place.file !== shown)
    .map(({ key }) => ({ file: shown, line: 1, path: key, message: `a variant states its own ${key}` }));
}

const inOrder = (faults: readonly Fault[]): Fault[] =>
  [...faults].sort((a, b) => (a.file === b.file ? a.line - b.line : a.file < b.file ? -1 : 1));

/** Every map that has a value and a source is a limit. */
function sourcesOf(root: Located): Map<string, string> {
  const sources = new Map<string, string>();
  const visit = (node: Located, at: string): void => {
    if (node.kind !== 'map') return;
    const source = node.entries.get('source');
    if (node.entries.has('value') && source?.kind === 'scalar') sources.set(at, String(source.value));
    else for (const [key, child] of node.entries) visit(child, at ? `${at}.${key}` : key);
  };
  visit(root, '');
  return sources;
}

function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null) {
    for (const child of Object.values(value)) deepFreeze(child);
    Object.freeze(value);
  }
  return value;
}
