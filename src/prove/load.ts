/** Finds and reads procedures: shipped ones by name, others by path; every fault of a file at once. */
import { createHash } from 'node:crypto';
import path from 'node:path';
import { wishOf } from '../checks/check.js';
import { packageRoot, realFiles, whyUnreadable } from '../host/files.js';
import { type Fault, InputError } from '../host/input-error.js';
import { canonicalJson } from '../rig/canonical-json.js';
import { checkSchema } from '../rig/check-schema.js';
import type { LoadedRig } from '../rig/load.js';
import { nodeAt, parseYaml, placeOf, plain } from '../rig/locate.js';
import { mayNotObserve } from '../supervisor/observing.js';
import { hasFigure, pathsOf } from './limits.js';
import { type Limit, type Procedure, procedureSchema, type RigFigure, type Step } from './procedure.js';

export interface LoadedProcedure {
  readonly procedure: Procedure;
  /** SHA-256 over the meaning of the file, hex. */
  readonly hash: string;
  readonly file: string;
}

const BARE_NAME = /^[a-z0-9][a-z0-9-]*$/;
const folder = (): string => path.join(packageRoot(), 'config', 'procedures');

export function shippedProcedures(): string[] {
  return realFiles
    .list(folder())
    .filter((entry) => entry.endsWith('.yaml'))
    .map((entry) => entry.slice(0, -'.yaml'.length));
}

/** `all`, a name, or a path. @throws InputError naming every fault with file and line */
export function loadProcedures(asked: string, loaded: LoadedRig): LoadedProcedure[] {
  return (asked === 'all' ? shippedProcedures() : [asked]).map((name) => loadProcedure(name, loaded));
}

/** Only this step, wherever it is. @throws InputError when no procedure has it */
export function onlyStep(procedures: readonly LoadedProcedure[], name: string): LoadedProcedure[] {
  const left = procedures.flatMap((each) => {
    const steps = each.procedure.steps.filter(({ step }) => step === name);
    return steps.length === 0 ? [] : [{ ...each, procedure: { ...each.procedure, steps } }];
  });
  if (left.length > 0) return left;
  const known = procedures.flatMap(({ procedure }) => procedure.steps.map(({ step }) => step));
  throw new InputError(`there is no step named ${name}; known steps: ${known.join(', ')}`);
}

function loadProcedure(nameOrPath: string, loaded: LoadedRig): LoadedProcedure {
  const bare = BARE_NAME.test(nameOrPath);
  const file = bare ? path.join(folder(), `${nameOrPath}.yaml`) : nameOrPath;
  if (bare && !realFiles.exists(file)) {
    throw new InputError(
      `there is no procedure named ${nameOrPath}; known names: all, ${shippedProcedures().join(', ')}; or give the path of a file`,
    );
  }
  let text: string;
  try {
    text = realFiles.readText(file);
  } catch (error) {
    throw new InputError(`procedure ${file} cannot be read: ${whyUnreadable(error)}`);
  }
  const shown = realFiles.show(file);
  const root = parseYaml(text, shown);
  const checked = checkSchema(procedureSchema, root, plain(root));
  if (!checked.ok) throw new InputError(`procedure ${shown} cannot be used`, checked.faults);
  const procedure = checked.value;
  const faults: Fault[] = [];
  const at = (keys: readonly PropertyKey[], message: string): void => {
    const node = nodeAt(root, keys);
    faults.push({ ...(node?.place ?? placeOf(root, keys)), path: keys.map(String).join('.'), message });
  };
  const seen = new Set<string>();
  for (const [i, step] of procedure.steps.entries()) {
    if (seen.has(step.step)) at(['steps', i, 'step'], `found ${step.step} twice, expected a name of its own`);
    seen.add(step.step);
    if (applies(step, loaded)) checkStep(step, loaded, (keys, message) => at(['steps', i, ...keys], message));
  }
  if (faults.length > 0) throw new InputError(`procedure ${shown} cannot be used on this rig`, faults);
  const hash = createHash('sha256').update(canonicalJson(procedure)).digest('hex');
  return { procedure, hash, file: shown };
}

/** @returns false for a rig that has not what the step is about */
export function applies({ needs }: Step, { rig }: LoadedRig): boolean {
  return needs.every((need) =>
    need === 'precharge'
      ? rig.precharge !== undefined
      : rig.connection.kind === (need === 'cable' ? 'cable' : 'shoes'),
  );
}

function checkStep(
  step: Step,
  loaded: LoadedRig,
  fault: (keys: readonly PropertyKey[], message: string) => void,
): void {
  const known = (figure: Limit | RigFigure, keys: readonly PropertyKey[]): void => {
    for (const [i, path] of pathsOf(figure).entries())
      if (!hasFigure(path, loaded))
        fault([...keys, i === 0 ? 'rig' : 'by'], `found ${path}, expected a figure of the rig`);
  };
  for (const [k, seen] of step.see.entries()) {
    const limits =
      'time' in seen
        ? { withinMs: seen.withinMs, notBeforeMs: seen.notBeforeMs }
        : { atMost: seen.atMost, atLeast: seen.atLeast };
    for (const [key, limit] of Object.entries(limits)) if (limit !== undefined) known(limit, ['see', k, key]);
  }
  for (const [k, { magnitude }] of step.inject.entries())
    if (typeof magnitude === 'object') known(magnitude, ['inject', k, 'magnitude']);
  if (step.observe === undefined) return;
  const why = mayNotObserve(step.observe, wishOf(step.wish), loaded.rig);
  if (why !== null) fault(['wish', 'maxCurrentA'], `found ${step.wish.maxCurrentA ?? 'none'}; ${why}`);
}
