/** Reading text files: the only place that opens them, so that loaders can be tested without a disk. */
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

export interface Files {
  /** Whole file as UTF-8 text, at most `maxBytes` (`MAX_TEXT_BYTES`). @throws an Error that says why not. */
  readText(file: string, maxBytes?: number): string;
  exists(file: string): boolean;
  /** Names in a folder, sorted; empty when there is no such folder. */
  list(folder: string): readonly string[];
  /** The path as shown to people: relative when it lies under the working folder. */
  show(file: string): string;
}

/** No file a person writes by hand is larger; bounds what a loader takes in. */
export const MAX_TEXT_BYTES = 1_000_000;
/** A recording of a measuring device: two million rows of four columns. */
export const MAX_RECORDING_BYTES = 128_000_000;

export const realFiles: Files = {
  readText(file, maxBytes = MAX_TEXT_BYTES) {
    const stat = statSync(file);
    // A device may never end; a pipe does.
    if (stat.isCharacterDevice() || stat.isBlockDevice()) throw new Error('it is a device, not a file');
    const { size } = stat;
    if (!(size <= maxBytes)) throw new Error(`${size} bytes, at most ${maxBytes} are read`);
    return readFileSync(file, 'utf8');
  },
  exists: (file) => existsSync(file),
  list: (folder) => (existsSync(folder) ? readdirSync(folder).sort() : []),
  show(file) {
    const relative = path.relative(process.cwd(), path.resolve(file));
    return relative.startsWith('..') || path.isAbsolute(relative) ? file : relative;
  },
};

/** Whether two paths lead to one file; false while either is not there. */
export function isSameFile(one: string, other: string): boolean {
  if (!existsSync(one) || !existsSync(other)) return false;
  const [a, b] = [statSync(one), statSync(other)];
  return a.dev === b.dev && a.ino === b.ino;
}

/** A file found below a folder, or what stood in the way of looking. */
export interface Found {
  readonly file: string;
  /** Set when it cannot be used: a pipe by that name, a folder nobody may look into. */
  readonly trouble?: string;
}

/**
 * Every file below a folder whose name ends so, sorted by path. Links to files are followed, links to folders are
 * not: they can go round in circles. Anything that is no plain file could wait for ever when it is opened.
 * @throws when the folder itself cannot be read
 */
export function filesBelow(folder: string, ending: string): Found[] {
  const found: Found[] = [];
  const look = (at: string): void => {
    for (const entry of readdirSync(at, { withFileTypes: true })) {
      const file = path.join(at, entry.name);
      if (entry.isDirectory()) {
        try {
          look(file);
        } catch (error) {
          found.push({ file, trouble: whyUnreadable(error) });
        }
      } else if (entry.name.endsWith(ending)) {
        const is = statSync(file, { throwIfNoEntry: false });
        if (is?.isDirectory()) continue;
        const trouble = is === undefined ? 'a link to nothing' : is.isFile() ? null : 'not a plain file';
        found.push(trouble === null ? { file } : { file, trouble });
      }
    }
  };
  look(folder);
  return found.sort((a, b) => (a.file < b.file ? -1 : a.file > b.file ? 1 : 0));
}

/** Why a file could not be read, for people. */
export function whyUnreadable(error: unknown): string {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'ENOENT') return 'there is no such file';
  if (code === 'EACCES') return 'reading it is not permitted';
  if (code === 'ENOTDIR') return 'it is a file, not a folder';
  if (code === 'EISDIR') return 'it is a folder, not a file';
  return error instanceof Error ? error.message : String(error);
}

/**
 * The folder that holds package.json and config/. Sought upward, because this file runs from src/ under the
 * test runner and from dist/src/ when installed.
 */
export function packageRoot(files: Files = realFiles, from: string = fileURLToPath(import.meta.url)): string {
  let folder = path.dirname(from);
  while (!files.exists(path.join(folder, 'package.json'))) {
    const parent = path.dirname(folder);
    if (parent === folder) throw new Error('the package is incomplete: no package.json above its code');
    folder = parent;
  }
  return folder;
}

/** A stack trace, the same wherever the package lies. */
export function placeless(stack: string, root: string = packageRoot()): string {
  return stack.replaceAll(`${pathToFileURL(root).href}/`, '').replaceAll(`${root}/`, '');
}
