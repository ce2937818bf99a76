/** `loopwarden fit rig`: figures of one rig from its recorded sessions, with their uncertainty. Changes nothing. */
import type { Command } from 'commander';
import { journalsBelow } from '../fleet/gather.js';
import { InputError } from '../host/input-error.js';
import { fitRig, type RigFit } from '../learn/fit-rig.js';
import { readAll } from '../learn/read-all.js';
import type { LeftOut, SessionFound } from '../learn/session.js';
import { snippetOf, sourceText } from '../learn/snippet.js';
import { loadRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import { EXIT } from '../supervisor/outcome.js';
import { tellRigFit } from './fit-rig-tell.js';
import { printable, say } from './print.js';

interface Options {
  readonly journals: string;
  readonly rig?: string;
  readonly json?: boolean;
}

export function addFitRig(fit: Command): void {
  fit
    .command('rig')
    .description(
      'cell resistance, cable and contact heating and supply response from recorded sessions of one rig, with 95 % ' +
        'intervals, and a snippet to paste; changes nothing',
    )
    .requiredOption('--journals <dir>', 'folder with journals (*.ndjson), also in folders below it')
    .option('--rig <name|file>', 'only sessions of this rig as it is; else of the rig with the most sessions')
    .option('--json', 'one JSON object')
    .action(run);
}

/** On a terminal only: elsewhere it would be noise. */
function progress(done: number, of: number): void {
  if (process.stderr.isTTY)
    process.stderr.write(`\r${done} of ${of} journals ${done === of ? '\r\x1b[K' : ''}`);
}

function run(options: Options): void {
  // Before the journals, which take a while, for a rig that cannot be used.
  const loaded = options.rig === undefined ? null : loadRig(options.rig);
  const read = readAll(journalsBelow(options.journals), progress);
  const fit = fitRig(read, loaded?.hash ?? null);
  if (fit === null) throw nothingOf(options, read, loaded?.rig ?? null);
  const rig = read.find((r): r is SessionFound => !('why' in r) && r.rigHash === fit.rigHash)!.figures;
  const snippet = snippetOf(fit, rig);
  if (options.json) say(JSON.stringify({ ...printable(fit), source: sourceText(fit), snippet }));
  else tellRigFit(fit, snippet);
  process.exitCode = exitOf(fit);
}

const exitOf = ({ fitted }: RigFit): number =>
  fitted.some(({ verdict }) => verdict !== 'cannot-tell') ? EXIT.released : EXIT.inconclusive;

/** More than this no message should name. */
const MOST_NAMED = 5;

function nothingOf(
  { journals }: Options,
  read: readonly (SessionFound | LeftOut)[],
  rig: Rig | null,
): InputError {
  const sound = read.filter((r): r is SessionFound => !('why' in r));
  if (sound.length > 0 && rig !== null) {
    const names = [
      ...new Set(sound.map((s) => (s.rig === rig.name ? `${s.rig} with other figures` : s.rig))),
    ];
    const told = names.slice(0, MOST_NAMED).join(', ');
    return new InputError(
      printable(`${journals}: no journal is of ${rig.name} as it is now; they are of ${told}`),
    );
  }
  const why = read
    .slice(0, MOST_NAMED)
    .map((r) => ('why' in r ? `${r.file}: ${r.why}` : r.file))
    .join('; ');
  return new InputError(printable(`${journals}: none of ${read.length} journals can be used: ${why}`));
}
