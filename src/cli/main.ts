#!/usr/bin/env node
/** The command line: one thin file per command, and one place that turns errors into words and exit codes. */
import { Command, CommanderError } from 'commander';
import { InputError } from '../host/input-error.js';
import { VERSION } from '../host/version.js';
import { PortError } from '../link/link.js';
import { EXIT, EXIT_TEXT } from '../supervisor/outcome.js';
import { addAcknowledge } from './acknowledge.js';
import { addAudit } from './audit.js';
import { addChart } from './chart.js';
import { addCodes } from './codes.js';
import { addDryRun } from './dry-run.js';
import { addEmulateBattery } from './emulate-battery.js';
import { addFit } from './fit.js';
import { addFreePlug } from './free-plug.js';
import { addJournals } from './journals.js';
import { addKeys } from './keys.js';
import { addLimits } from './limits.js';
import { addMeasure } from './measure.js';
import { addMerge } from './merge.js';
import { NOTICE } from './notice.js';
import { complain } from './print.js';
import { addProve } from './prove.js';
import { addRun } from './run.js';
import { addScenarios } from './scenarios.js';
import { addSchema } from './schema.js';
import { addSimDevice } from './sim-device.js';
import { addStorm } from './storm.js';

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

for (const add of [
  addDryRun,
  addSimDevice,
  addEmulateBattery,
  addRun,
  addAcknowledge,
  addFreePlug,
  addAudit,
  addJournals,
  addKeys,
  addLimits,
  addCodes,
  addChart,
  addSchema,
  addScenarios,
  addProve,
  addStorm,
  addMerge,
  addMeasure,
  addFit,
]) {
  add(program);
}
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
