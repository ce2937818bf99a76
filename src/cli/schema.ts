/** `loopwarden schema`: the JSON Schema of rig files, or of procedures, for editors. */
import type { Command } from 'commander';
import { procedureJsonSchema } from '../prove/json-schema.js';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files, or of procedures')
    .option('--procedure', 'that of the procedures of `prove`')
    .action(({ procedure }: { procedure?: boolean }) =>
      say(JSON.stringify(procedure ? procedureJsonSchema() : rigJsonSchema(), null, 2)),
    );
}
