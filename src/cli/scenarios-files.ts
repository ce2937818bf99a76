/** Finds and reads scenario files: by the name of a shipped one, or by path. */
import path from 'node:path';
import { parseScenario, type Scenario } from '../../simulators/scenario.js';
import { packageRoot, realFiles, whyUnreadable } from '../host/files.js';
import { InputError } from '../host/input-error.js';

const BARE_NAME = /^[a-z0-9][a-z0-9-]*$/;
const folder = (): string => path.join(packageRoot(), 'config', 'scenarios');

export function shippedScenarios(): string[] {
  return realFiles
    .list(folder())
    .filter((entry) => entry.endsWith('.yaml'))
    .map((entry) => entry.slice(0, -'.yaml'.length));
}

/** @throws InputError naming every fault with file and line */
export function loadScenario(nameOrPath: string): Scenario {
  const bare = BARE_NAME.test(nameOrPath);
  const file = bare ? path.join(folder(), `${nameOrPath}.yaml`) : nameOrPath;
  if (bare && !realFiles.exists(file)) {
    throw new InputError(
      `there is no scenario named ${nameOrPath}; known names: ${shippedScenarios().join(', ')}; or give the path of a file`,
    );
  }
  let text: string;
  try {
    text = realFiles.readText(file);
  } catch (error) {
    throw new InputError(`scenario ${file} cannot be read: ${whyUnreadable(error)}`);
  }
  const { scenario, problems } = parseScenario(text);
  if (scenario !== null) return scenario;
  const shown = realFiles.show(file);
  throw new InputError(
    `scenario ${shown} cannot be used`,
    problems.map((p) => ({ file: shown, ...p })),
  );
}
