/** Builds the device in C with the compiler of the system, once a process. Where there is none, it says so. */
import { spawnSync } from 'node:child_process';
import path from 'node:path';
import { ROOT, temporaryFolder } from './process.js';

const SOURCE = path.join(ROOT, 'simulators/reference-device/device.c');
const STRICT = ['-std=c11', '-Wall', '-Wextra', '-Werror'];
const SANITIZED = ['-g', '-fsanitize=address,undefined', '-fno-sanitize-recover=all'];

const answers = (command: string): boolean =>
  spawnSync(command, ['--version'], { stdio: 'ignore' }).status === 0;

/** The first C compiler that answers; undefined where there is none. */
export const COMPILER: string | undefined = ['cc', 'gcc', 'clang'].find(answers);
/** For the name of a test that is skipped without one. */
export const UNLESS_BUILT =
  COMPILER === undefined ? ' (skipped: no C compiler, neither cc, gcc nor clang)' : '';

const built = new Map<string, string>();

/** @throws Error with what the compiler said. */
function build(name: string, options: readonly string[]): string {
  const known = built.get(name);
  if (known !== undefined) return known;
  const file = path.join(temporaryFolder(), name);
  const { status, stderr } = spawnSync(
    COMPILER as string,
    [...STRICT, '-O1', ...options, '-o', file, SOURCE, '-lm'],
    { encoding: 'utf8' },
  );
  if (status !== 0) throw new Error(`${SOURCE} does not build:\n${stderr}`);
  built.set(name, file);
  return file;
}

/** Path of the program. */
export const referenceDevice = (): string => build('device', []);

/** The same with the checks of the compiler on memory and arithmetic, if they link here; else the plain one. */
export function checkedReferenceDevice(): { readonly file: string; readonly sanitized: boolean } {
  const probe = spawnSync(COMPILER as string, [...SANITIZED, '-x', 'c', '-', '-o', '/dev/null'], {
    input: 'int main(void) { return 0; }\n',
  });
  const sanitized = probe.status === 0;
  return { file: sanitized ? build('device-checked', SANITIZED) : referenceDevice(), sanitized };
}
