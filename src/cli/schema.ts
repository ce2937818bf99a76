/** `loopwarden schema`: the JSON Schema of rig files, or of command maps of instruments, for editors. */
import type { Command } from 'commander';
import { instrumentJsonSchema } from '../rig/instrument-schema.js';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files')
    .option('--instrument', 'of command maps of instruments instead')
    .action(({ instrument }: { instrument?: boolean }) =>
      say(JSON.stringify(instrument ? instrumentJsonSchema() : rigJsonSchema(), null, 2)),
    );
}
