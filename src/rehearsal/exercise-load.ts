/** Exercises from their files: those shipped in `config/exercises/`, by the rig they suit; every fault of a file at once. */
import path from 'node:path';
import { packageRoot, realFiles, whyUnreadable } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { checkSchema } from '../rig/check-schema.js';
import type { LoadedRig } from '../rig/load.js';
import { nodeAt, parseYaml, placeOf, plain } from '../rig/locate.js';
import { type Exercise, exerciseSchema } from './exercise.js';
import { checkFault } from './fault-ask.js';

const folder = (): string => path.join(packageRoot(), 'config', 'exercises');

/** @throws InputError naming every fault with file and line */
export const loadExercise = (file: string): Exercise => read(file).exercise;

interface Read {
  readonly exercise: Exercise;
  /** For the place of what is wrong with it on one rig. */
  readonly root: ReturnType<typeof parseYaml>;
}

function read(file: string): Read {
  const shown = realFiles.show(file);
  let text: string;
  try {
    text = realFiles.readText(file);
  } catch (error) {
    throw new InputError(`exercise ${shown} cannot be read: ${whyUnreadable(error)}`);
  }
  const root = parseYaml(text, shown);
  const checked = checkSchema(exerciseSchema, root, plain(root));
  if (!checked.ok) throw new InputError(`exercise ${shown} cannot be used`, checked.faults);
  return { exercise: checked.value, root };
}

export const suits = ({ connection, rigs }: Exercise, { rig }: LoadedRig): boolean =>
  rig.connection.kind === connection && (rigs === undefined || rigs.includes(rig.name));

/**
 * The exercises that suit this rig, sorted by name.
 * @param files all those shipped when absent
 * @throws InputError naming every fault with file and line
 */
export function loadExercises(loaded: LoadedRig, files = shippedExercises()): Exercise[] {
  const found: Exercise[] = [];
  const seen = new Map<string, string>();
  for (const file of files) {
    const { exercise, root } = read(file);
    const other = seen.get(exercise.name);
    if (other !== undefined)
      throw new InputError(`exercises ${other} and ${realFiles.show(file)} are both named ${exercise.name}`);
    seen.set(exercise.name, realFiles.show(file));
    if (!suits(exercise, loaded)) continue;
    checkFaults(exercise, root, realFiles.show(file), loaded);
    found.push(exercise);
  }
  return found.sort((a, b) => (a.name < b.name ? -1 : 1));
}

/** Paths of those that come with the program. */
export const shippedExercises = (): string[] =>
  realFiles
    .list(folder())
    .filter((entry) => entry.endsWith('.yaml'))
    .map((entry) => path.join(folder(), entry));

/** What an exercise makes go wrong must be able to go wrong on this rig. */
function checkFaults(exercise: Exercise, root: Read['root'], shown: string, { rig }: LoadedRig): void {
  const faults: Fault[] = [];
  for (const [i, { phase, ...more }] of exercise.inject.entries()) {
    try {
      checkFault(phase === 'start' ? more : { ...more, phase }, rig);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      const keys = ['inject', i];
      faults.push({
        ...(nodeAt(root, keys)?.place ?? placeOf(root, keys)),
        path: keys.join('.'),
        message: error.message,
      });
    }
  }
  if (faults.length > 0) throw new InputError(`exercise ${shown} cannot be used on ${rig.name}`, faults);
}
