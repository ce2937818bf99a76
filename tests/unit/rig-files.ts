/** Rigs for the loader's tests: the shipped ones, and variants held in memory beside them. */
import path from 'node:path';
import { type Files, packageRoot, realFiles } from '../../src/host/files.js';
import { InputError } from '../../src/host/input-error.js';
import { type LoadedRig, loadRig } from '../../src/rig/load.js';

const CONFIG = path.join(packageRoot(), 'config');

/** Files in memory, named as if they stood in config/; anything else is read from the disk. */
export function filesWith(texts: Readonly<Record<string, string>>): Files {
  const inMemory = (file: string) => texts[path.relative(CONFIG, path.resolve(file))];
  return {
    readText: (file) => inMemory(file) ?? realFiles.readText(file),
    exists: (file) => inMemory(file) !== undefined || realFiles.exists(file),
    list: (folder) => realFiles.list(folder),
    show: (file) => path.relative(CONFIG, path.resolve(file)),
  };
}

/** A variant of a shipped rig under a name of its own. */
export function variant(body: string, base = 'depot-cable'): string {
  return `extends: ${base}.yaml\nname: try\ntitle: a variant for a test\n${body}`;
}

export function loadText(text: string, more: Readonly<Record<string, string>> = {}): LoadedRig {
  return loadRig(path.join(CONFIG, 'try.yaml'), filesWith({ 'try.yaml': text, ...more }));
}

export function refusal(text: string, more: Readonly<Record<string, string>> = {}): InputError {
  try {
    loadText(text, more);
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
  throw new Error('the rig was taken, a refusal was expected');
}

/** The text of a line, for asking what a fault points at. */
export function lineOf(file: string, line: number, texts: Readonly<Record<string, string>> = {}): string {
  return filesWith(texts).readText(path.join(CONFIG, file)).split('\n')[line - 1] ?? '';
}
