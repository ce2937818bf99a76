/**
 * The built command line as real processes. Everything here is bounded in time, and `endAll` leaves neither
 * processes nor folders behind.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import type { Outcome } from '../../src/supervisor/outcome.js';

export const ROOT = path.resolve(import.meta.dirname, '../..');
export const MAIN = path.join(ROOT, 'dist/src/cli/main.js');

/** A child says on its fourth pipe, as it exits, what processor time it used: the parent cannot ask. */
const SAY_CPU = `data:text/javascript,${encodeURIComponent(
  `import { writeSync } from 'node:fs';
   process.on('exit', () => { const { user, system } = process.cpuUsage(); writeSync(3, String(user + system)); });`,
)}`;

/** The signal is ignored, so that the write fails with EFBIG as it would with ENOSPC. `ulimit -f` counts half KiB. */
const LIMITED = 'trap "" XFSZ; ulimit -f "$0"; exec "$@"';

export interface Ended {
  readonly code: number | null;
  readonly signal: NodeJS.Signals | null;
  readonly stdout: string;
  readonly stderr: string;
  /** Processor time; NaN when the process was killed. */
  readonly cpuS: number;
  readonly wallS: number;
}

export interface StartOptions {
  readonly cwd?: string;
  readonly env?: NodeJS.ProcessEnv;
  /** No file it writes may become larger, KiB: a disk that is full for this process alone. */
  readonly fileKiB?: number;
  /** Another program than loopwarden, by its path. */
  readonly program?: string;
}

const children = new Set<ChildProcess>();
const folders = new Set<string>();

/** Kills what still runs and removes the temporary folders; for `afterAll`. */
export async function endAll(): Promise<void> {
  const ends = [...children].map((child) => {
    const gone = new Promise((resolve) => child.once('close', resolve));
    child.kill('SIGKILL');
    return gone;
  });
  await Promise.all(ends);
  for (const folder of folders) rmSync(folder, { recursive: true, force: true });
  folders.clear();
}

export function temporaryFolder(): string {
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-test-'));
  folders.add(folder);
  return folder;
}

export const pass = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

/** Asks again and again until there is an answer; fails with `what` when the time is up. */
export async function until<T>(
  what: string,
  ask: () => T | null | undefined | false,
  withinS = 60,
): Promise<T> {
  const endMs = performance.now() + withinS * 1000;
  for (;;) {
    const answer = ask();
    if (answer) return answer;
    if (performance.now() > endMs) throw new Error(`not within ${withinS} s: ${what}`);
    await pass(20);
  }
}

/** One running command. */
export class Process {
  stdout = '';
  stderr = '';
  readonly ended: Promise<Ended>;
  readonly #child: ChildProcess;
  #result: Ended | null = null;

  constructor(
    readonly args: readonly string[],
    { cwd = temporaryFolder(), env = {}, fileKiB, program }: StartOptions = {},
  ) {
    const node = program ? [program, ...args] : [process.execPath, '--import', SAY_CPU, MAIN, ...args];
    const [command = '', ...rest] =
      fileKiB === undefined ? node : ['sh', '-c', LIMITED, String(2 * fileKiB), ...node];
    const child = spawn(command, rest, {
      cwd,
      env: { ...process.env, NO_COLOR: '1', XDG_STATE_HOME: path.join(cwd, 'xdg'), ...env },
      stdio: ['ignore', 'pipe', 'pipe', 'pipe'],
    });
    children.add(child);
    this.#child = child;
    const startMs = performance.now();
    let cpu = '';
    child.stdout?.on('data', (text) => {
      this.stdout += text;
    });
    child.stderr?.on('data', (text) => {
      this.stderr += text;
    });
    (child.stdio[3] as NodeJS.ReadableStream).on('data', (text) => {
      cpu += text;
    });
    this.ended = new Promise((resolve) => {
      child.once('close', (code, signal) => {
        children.delete(child);
        const { stdout, stderr } = this;
        const wallS = (performance.now() - startMs) / 1000;
        const cpuS = cpu === '' ? Number.NaN : Number(cpu) / 1e6;
        this.#result = { code, signal, stdout, stderr, cpuS, wallS };
        resolve(this.#result);
      });
    });
  }

  get pid(): number {
    return this.#child.pid as number;
  }
  get running(): boolean {
    return this.#result === null;
  }

  signal(signal: NodeJS.Signals): void {
    this.#child.kill(signal);
  }

  /** The end of the process, or a failure that shows what it had said. */
  async end(withinS = 60): Promise<Ended> {
    try {
      return await until(`the end of ${this.#said()}`, () => this.#result, withinS);
    } catch (error) {
      throw new Error(`${(error as Error).message}\n${this.#said()}`);
    }
  }

  /** Waits until the process has said this on either stream. */
  async says(pattern: RegExp, withinS = 60): Promise<RegExpExecArray> {
    const found = await until(
      `${pattern} from ${this.args[0]}`,
      () => pattern.exec(this.stdout) ?? pattern.exec(this.stderr) ?? !this.running,
      withinS,
    );
    if (found === true) throw new Error(`ended without saying ${pattern}: ${this.#said()}`);
    return found;
  }

  #said(): string {
    return `loopwarden ${this.args.join(' ')}\n${this.stdout}${this.stderr}`;
  }
}

/** Runs a command to its end. */
export async function loopwarden(args: readonly string[], options: StartOptions = {}): Promise<Ended> {
  return new Process(args, options).end();
}

/** The one JSON object a command printed; anything else on standard output is a failure. */
export function objectOf<T>(ended: Ended): T {
  const lines = ended.stdout.split('\n');
  if (lines.length !== 2 || lines[1] !== '')
    throw new Error(`not one line of JSON: ${ended.stdout}\n${ended.stderr}`);
  return JSON.parse(lines[0] as string) as T;
}

export const outcomeOf = (ended: Ended): Outcome => objectOf<Outcome>(ended);

/** `sim-device --pty`, up and running: paths by port name ('' where the rig has one port). */
export async function ptyDevice(
  args: readonly string[] = [],
): Promise<{ device: Process; ports: Record<string, string> }> {
  const device = new Process(['sim-device', '--pty', '--json', ...args]);
  const [line] = await device.says(/^\{.*\}\n/);
  const said = JSON.parse(line) as { path?: string; paths?: Record<string, string> };
  return { device, ports: said.paths ?? { '': said.path as string } };
}
