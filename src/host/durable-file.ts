/** Small files that must survive a power loss: written beside, synced, then renamed over. */
import {
  closeSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmdirSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs';
import { open, rename } from 'node:fs/promises';
import { homedir, tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { InputError } from './input-error.js';

const WHY: Readonly<Record<string, string>> = {
  EACCES: 'permission denied',
  EPERM: 'permission denied',
  EROFS: 'it lies on a read-only disk',
  ENOSPC: 'the disk is full',
  EEXIST: 'a file by that name is there already',
  ENOTDIR: 'a part of that path is a file, not a folder',
  EISDIR: 'it is a folder, not a file',
  ENOENT: 'there is no such folder',
};

/** Where people want something kept, and it cannot be: in words, with the path they gave. */
export function placeError(path: string, error: unknown): InputError {
  const { code = '', message } = error as NodeJS.ErrnoException;
  return new InputError(`${path} cannot be used: ${WHY[code] ?? message}`);
}

/** @throws InputError when there can be no such folder */
export function makeFolder(path: string): void {
  try {
    mkdirSync(path, { recursive: true });
  } catch (error) {
    throw placeError(path, error);
  }
}

/** The user's state folder by the XDG base directory specification. */
export function userStateFolder(): string {
  const base = process.env.XDG_STATE_HOME;
  return join(base !== undefined && base !== '' ? base : join(homedir(), '.local', 'state'), 'loopwarden');
}

/** A new file that only its owner may read. @throws InputError when there can be none, or one is there already */
export function writeNewSecret(path: string, text: string): void {
  let fd: number;
  try {
    fd = openSync(path, 'wx', 0o600);
  } catch (error) {
    throw placeError(path, error);
  }
  try {
    writeSync(fd, text);
    fsyncSync(fd);
  } finally {
    closeSync(fd);
  }
}

/** @param text as a whole, or in pieces, of which few are held at a time */
export function writeDurably(path: string, text: string | Iterable<string>): void {
  makeFolder(dirname(path));
  const beside = `${path}.new`;
  const fd = openSync(beside, 'w');
  try {
    try {
      for (const piece of typeof text === 'string' ? [text] : gathered(text)) {
        const bytes = Buffer.from(piece, 'utf8');
        for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
      }
      fsyncSync(fd);
    } finally {
      closeSync(fd);
    }
    renameSync(beside, path);
  } catch (error) {
    // A full disk, or a folder by that name: what was begun is of no use to anyone.
    rmSync(beside, { force: true });
    throw error;
  }
  const folder = openSync(dirname(path), 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}

/** Adds to a file, made when it is not there; on the disk when it returns. */
export function appendDurably(path: string, text: string): void {
  makeFolder(dirname(path));
  const fd = openSync(path, 'a');
  try {
    const bytes = Buffer.from(text, 'utf8');
    for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
    fsyncSync(fd);
  } finally {
    closeSync(fd);
  }
}

function* gathered(pieces: Iterable<string>): Generator<string> {
  let held = '';
  for (const piece of pieces) {
    held += piece;
    if (held.length < BUFFER_CHARS) continue;
    yield held;
    held = '';
  }
  if (held !== '') yield held;
}

/** Asked before hours are spent on what is to be written. @throws InputError when no file could be written there */
export function mustBeWritable(path: string): void {
  makeFolder(dirname(path));
  const beside = `${path}.new`;
  try {
    if (statSync(path, { throwIfNoEntry: false })?.isDirectory())
      throw Object.assign(new Error('it is a folder'), { code: 'EISDIR' });
    closeSync(openSync(beside, 'w'));
    rmSync(beside, { force: true });
  } catch (error) {
    throw placeError(path, error);
  }
}

/**
 * Writes the newest text over a file beside what goes on: nobody waits for it, one write is in flight, and what comes
 * meanwhile replaces what waits. A disk that does not answer costs the file, nothing else.
 */
export function newestInto(path: string, failed: (error: Error) => void): (text: string) => void {
  let waiting: string | null = null;
  let writing = false;
  const write = async (text: string): Promise<void> => {
    const beside = `${path}.new`;
    const file = await open(beside, 'w');
    try {
      await file.writeFile(text);
      await file.sync();
    } finally {
      await file.close();
    }
    await rename(beside, path);
  };
  const next = (): void => {
    if (waiting === null || writing) return;
    const text = waiting;
    waiting = null;
    writing = true;
    write(text)
      .catch(failed)
      .finally(() => {
        writing = false;
        next();
      });
  };
  return (text) => {
    waiting = text;
    next();
  };
}

export const isThere = (path: string): boolean => existsSync(path);

/** @returns null when there is no such file @throws InputError when it cannot be read for any other reason */
export function readIfThere(path: string): string | null {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw placeError(path, error);
  }
}

/** Where small files are kept that must survive: on disk, or for a rehearsal in memory. */
export interface SmallFiles {
  /** @returns null when there is none by this name */
  read(path: string): string | null;
  /** Durable when it returns. */
  write(path: string, text: string): void;
}
export const filesOnDisk: SmallFiles = { read: readIfThere, write: writeDurably };

/** Forgotten with the process. */
export function filesInMemory(): SmallFiles {
  const kept = new Map<string, string>();
  return { read: (path) => kept.get(path) ?? null, write: (path, text) => void kept.set(path, text) };
}

export interface TextFile {
  append(text: string): void;
  close(): Promise<void>;
}

/** Enough to spare a system call per line, little enough to hold. */
const BUFFER_CHARS = 1 << 16;

/** Opens a new file for writing. @throws InputError when there can be none, or one is there already */
export function openNew(path: string): number {
  try {
    return openSync(path, 'wx');
  } catch (error) {
    throw placeError(path, error);
  }
}

/** A new file for output that need not survive a power loss line by line. Fails when the file exists. */
export function createTextFile(path: string): TextFile {
  const fd = openNew(path);
  let held: string[] = [];
  let chars = 0;
  const write = (): void => {
    const bytes = Buffer.from(held.join(''), 'utf8');
    held = [];
    chars = 0;
    for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
  };
  return {
    append(text) {
      held.push(text);
      chars += text.length;
      if (chars >= BUFFER_CHARS) write();
    },
    close: async () => {
      write();
      closeSync(fd);
    },
  };
}

/** A name nobody has taken in this folder: `base.ext`, or `base-2.ext`, `base-3.ext` … */
export function freeName(folder: string, base: string, ext: string): string {
  for (let n = 1; n <= 10_000; n++) {
    const path = join(folder, n === 1 ? `${base}${ext}` : `${base}-${n}${ext}`);
    if (!existsSync(path)) return path;
  }
  throw new Error(`${join(folder, base)}${ext}: ten thousand files by that name`);
}

/** A new folder: `wish` itself, or with -2, -3 … when something by that name is there already. */
export function newFolder(wish: string): string {
  for (let n = 1; n <= 10_000; n++) {
    const path = n === 1 ? wish : `${wish}-${n}`;
    makeFolder(dirname(path));
    try {
      mkdirSync(path);
      return path;
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw placeError(path, error);
    }
  }
  throw new Error(`${wish}: ten thousand folders by that name`);
}

/**
 * Makes a folder that is there whole or not at all: filled beside under another name, renamed when it is finished.
 * @throws InputError when something that is no empty folder is there already, or there can be none
 */
export async function newFolderOnceWhole<T>(wish: string, fill: (folder: string) => Promise<T>): Promise<T> {
  const refuse = (): never => {
    throw new InputError(`${wish} is there already and not an empty folder: nothing is written over`);
  };
  try {
    if (existsSync(wish) && readdirSync(wish).length > 0) refuse();
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw placeError(wish, error);
  }
  const whole = resolve(wish);
  makeFolder(dirname(whole));
  const beside = newFolder(`${whole}.unfinished`);
  try {
    const result = await fill(beside);
    try {
      // Gives way only while it is empty still.
      if (existsSync(whole)) rmdirSync(whole);
      renameSync(beside, whole);
    } catch {
      refuse();
    }
    return result;
  } finally {
    rmSync(beside, { recursive: true, force: true });
  }
}

/** A folder of its own for what nobody keeps; gone afterwards, whatever happens. */
export async function withTemporaryFolder<T>(use: (folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'loopwarden-'));
  try {
    return await use(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
