/** `loopwarden schema`: the JSON Schema of rig files and of every other kind of file a person writes, for editors. */
import type { Command } from 'commander';
import type { z } from 'zod';
import { RENEWABLES, STORE, TARIFF } from '../plan/day-files.js';
import { type FileKind, planningJsonSchema } from '../plan/planning-file.js';
import { ROUTE } from '../plan/route.js';
import { TIMETABLE } from '../plan/timetable.js';
import { procedureJsonSchema } from '../prove/json-schema.js';
import { exerciseJsonSchema } from '../rehearsal/exercise.js';
import { instrumentJsonSchema } from '../rig/instrument-schema.js';
import { rigJsonSchema } from '../rig/json-schema.js';
import { say } from './print.js';

export function addSchema(program: Command): void {
  program
    .command('schema')
    .description('the JSON Schema of rig files, or of another kind of file')
    .option('--procedure', 'that of the procedures of `prove`')
    .option('--exercise', 'that of the exercises at the simulated charger')
    .option('--instrument', 'that of command maps of instruments')
    .option('--route', 'that of the routes of `plan route`')
    .option('--timetable', 'that of the timetables of `plan day`')
    .option('--store', 'that of trackside stores')
    .option('--tariff', 'that of tariffs')
    .option('--renewables', 'that of what renewables give over a day')
    .action((options: Options) => say(JSON.stringify(schemaOf(options), null, 2)));
}

interface Options {
  readonly procedure?: boolean;
  readonly exercise?: boolean;
  readonly instrument?: boolean;
  readonly route?: boolean;
  readonly timetable?: boolean;
  readonly store?: boolean;
  readonly tariff?: boolean;
  readonly renewables?: boolean;
}

function schemaOf(options: Options): object {
  if (options.procedure) return procedureJsonSchema();
  if (options.exercise) return exerciseJsonSchema();
  if (options.instrument) return instrumentJsonSchema();
  const planning = plannedKind(options);
  return planning === null ? rigJsonSchema() : planningJsonSchema(planning);
}

function plannedKind(options: Options): FileKind<z.ZodType> | null {
  if (options.route) return ROUTE;
  if (options.timetable) return TIMETABLE;
  if (options.store) return STORE;
  if (options.tariff) return TARIFF;
  return options.renewables ? RENEWABLES : null;
}
