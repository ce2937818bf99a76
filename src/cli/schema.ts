/** `loopwarden schema`: the JSON Schema of rig files, procedures, exercises or command maps of instruments, for editors. */
import type { Command } from 'commander';
import { procedureJsonSchema } from '../prove/json-schema.js';
import { exerciseJsonSchema } from '../rehearsal/exercise.js';
import { instrumentJsonSchema } from '../rig/instrument-schema.js';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files, of procedures, of exercises, or of command maps')
    .option('--procedure', 'that of the procedures of `prove`')
    .option('--exercise', 'that of the exercises at the simulated charger')
    .option('--instrument', 'that of command maps of instruments')
    .action((options: Options) => say(JSON.stringify(schemaOf(options), null, 2)));
}

interface Options {
  readonly procedure?: boolean;
  readonly exercise?: boolean;
  readonly instrument?: boolean;
}

function schemaOf({ procedure, exercise, instrument }: Options): object {
  if (procedure) return procedureJsonSchema();
  if (exercise) return exerciseJsonSchema();
  return instrument ? instrumentJsonSchema() : rigJsonSchema();
}
