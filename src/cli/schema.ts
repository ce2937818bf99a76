/** `loopwarden schema`: the JSON Schema of rig files, for editors. */
import type { Command } from 'commander';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files')
    .action(() => say(JSON.stringify(rigJsonSchema(), null, 2)));
}
