/** A command run in this process, with what it says and how it would exit: a process of its own takes a second. */
import { Command, CommanderError } from 'commander';
import { vi } from 'vitest';
import { InputError } from '../../src/host/input-error.js';
import { EXIT } from '../../src/supervisor/outcome.js';

export interface Said {
  readonly stdout: string;
  readonly stderr: string;
  /** As `main` would exit. */
  readonly code: number;
}

/** @param add adds the command to a program, as `main` does */
export async function runHere(add: (program: Command) => void, ...args: string[]): Promise<Said> {
  const said = { stdout: '', stderr: '' };
  const spies = (['stdout', 'stderr'] as const).map((stream) =>
    vi.spyOn(process[stream], 'write').mockImplementation((text) => {
      said[stream] += String(text);
      return true;
    }),
  );
  const program = new Command().exitOverride();
  add(program);
  for (const c of program.commands.flatMap((each) => [each, ...each.commands])) c.exitOverride();
  let code = 0;
  try {
    await program.parseAsync(args, { from: 'user' });
    code = Number(process.exitCode ?? 0);
  } catch (error) {
    // Anything else is a fault of ours, which no test takes for a person's.
    const theirs = error instanceof InputError || error instanceof CommanderError;
    code = theirs ? EXIT.badInput : EXIT.internalFault;
    if (error instanceof InputError) said.stderr += error.message;
    else if (!theirs) said.stderr += error instanceof Error ? error.stack : String(error);
  } finally {
    for (const spy of spies) spy.mockRestore();
    process.exitCode = undefined;
  }
  return { ...said, code };
}
