/** `loopwarden schema`: the JSON Schema of rig files, of procedures, or of command maps of instruments, for editors. */
import type { Command } from 'commander';
import { procedureJsonSchema } from '../prove/json-schema.js';
import { instrumentJsonSchema } from '../rig/instrument-schema.js';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files, of procedures, or of command maps')
    .option('--procedure', 'that of the procedures of `prove`')
    .option('--instrument', 'that of command maps of instruments')
    .action(({ procedure, instrument }: { procedure?: boolean; instrument?: boolean }) =>
      say(
        JSON.stringify(
          procedure ? procedureJsonSchema() : instrument ? instrumentJsonSchema() : rigJsonSchema(),
          null,
          2,
        ),
      ),
    );
}
