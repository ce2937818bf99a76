#!/usr/bin/env node
/** The command line: one thin file per command, and one place that turns errors into words and exit codes. */
import { Command, CommanderError } from 'commander';
import { InputError } from '../host/input-error.js';
import { VERSION } from '../host/version.js';
import { PortError } from '../link/link.js';
import { EXIT, EXIT_TEXT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { complain } from './print.js';

/** In the order of the help. Only what was asked for is loaded: charts and engines of one command delay no other. */
const COMMANDS: Readonly<Record<string, () => Promise<(program: Command) => void>>> = {
  'dry-run': async () => (await import('./dry-run.js')).addDryRun,
  'sim-device': async () => (await import('./sim-device.js')).addSimDevice,
  'emulate-battery': async () => (await import('./emulate-battery.js')).addEmulateBattery,
  run: async () => (await import('./run.js')).addRun,
  serve: async () => (await import('./serve.js')).addServe,
  acknowledge: async () => (await import('./acknowledge.js')).addAcknowledge,
  'free-plug': async () => (await import('./free-plug.js')).addFreePlug,
  audit: async () => (await import('./audit.js')).addAudit,
  journals: async () => (await import('./journals.js')).addJournals,
  keys: async () => (await import('./keys.js')).addKeys,
  limits: async () => (await import('./limits.js')).addLimits,
  codes: async () => (await import('./codes.js')).addCodes,
  chart: async () => (await import('./chart.js')).addChart,
  schema: async () => (await import('./schema.js')).addSchema,
  scenarios: async () => (await import('./scenarios.js')).addScenarios,
  prove: async () => (await import('./prove.js')).addProve,
  storm: async () => (await import('./storm.js')).addStorm,
  merge: async () => (await import('./merge.js')).addMerge,
  plan: async () => (await import('./plan.js')).addPlan,
  measure: async () => (await import('./measure.js')).addMeasure,
  fit: async () => (await import('./fit.js')).addFit,
};

const program = new Command('loopwarden')
  .description('Supervises the charge session of a battery train.')
  .version(VERSION)
  .addHelpText('before', `${NOTICE}\n`)
  .addHelpText(
    'after',
    `\nExit codes:\n${Object.entries(EXIT_TEXT)
      .map(([code, text]) => `  ${code}  ${text}`)
      .join('\n')}`,
  )
  .exitOverride()
  .configureOutput({ writeErr: (text) => process.stderr.write(text) });

const name = process.argv[2] ?? '';
const asked = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
for (const load of asked === undefined ? Object.values(COMMANDS) : [asked]) (await load())(program);
for (const command of program.commands.flatMap((c) => [c, ...c.commands]))
  command.exitOverride().showHelpAfterError('(--help lists the options)');

// A reader that has gone (a pipe cut short, a closed terminal) ends the telling, never a session.
process.stdout.on('error', () => {});
process.stderr.on('error', () => {});

try {
  await program.parseAsync();
} catch (error) {
  process.exitCode = report(error);
}

function report(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : EXIT.badInput;
  if (error instanceof InputError || error instanceof PortError) {
    complain(error.message);
    return EXIT.badInput;
  }
  complain('loopwarden itself has failed. Keep the journal and report this:');
  complain(error instanceof Error ? (error.stack ?? error.message) : String(error));
  return EXIT.internalFault;
}
