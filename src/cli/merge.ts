/** `loopwarden merge`: the results of shards or pieces of a campaign, laid together as the undivided run gives them. */
import type { Command } from 'commander';
import { mergeResults } from '../campaign/merge.js';
import type { CampaignKind, NumberedCase, ResultsHeader } from '../campaign/results.js';
import { buildHash } from '../host/build.js';
import { mustBeWritable } from '../host/durable-file.js';
import { isSameFile } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { SOFTWARE } from '../host/version.js';
import { PROVE_KIND } from '../prove/record.js';
import { STORM_KIND } from '../storm/results.js';
import { NOTICE } from './notice.js';
import { complain, say } from './print.js';
import { tellMergedProof } from './prove-tell.js';
import { loadResults, writeResults } from './results-files.js';
import { tellStorm } from './storm-tell.js';

interface Options {
  readonly out?: string;
  readonly json?: boolean;
}

/** Every kind of campaign: how its files are read, and how it is told. */
interface Campaign {
  readonly kind: CampaignKind<NumberedCase>;
  tell(header: ResultsHeader, cases: readonly NumberedCase[], options: { readonly json: boolean }): number;
}
/** A file names its kind, and its cases were read by that kind: from here on both fit each other. */
const campaign = <C extends NumberedCase>(
  kind: CampaignKind<C>,
  tell: (header: ResultsHeader, cases: readonly C[], options: { readonly json: boolean }) => number,
): Campaign => ({ kind, tell }) as unknown as Campaign;
const CAMPAIGNS: Readonly<Record<string, Campaign>> = {
  [STORM_KIND.kind]: campaign(STORM_KIND, tellStorm),
  [PROVE_KIND.kind]: campaign(PROVE_KIND, tellMergedProof),
};
const KINDS = Object.fromEntries(Object.entries(CAMPAIGNS).map(([name, { kind }]) => [name, kind]));

export function addMerge(program: Command): void {
  program
    .command('merge')
    .description('lay results of `--shard i/n --out FILE` together: exactly what the undivided run gives')
    .argument('<file...>', 'result files: every shard of every piece, in any order')
    .option('--out <file>', 'write what the undivided run writes with --out')
    .option('--json', 'one JSON object')
    .action(merge);
}

function merge(files: readonly string[], { out, json = false }: Options): void {
  if (out !== undefined) mustBeNew(out, files);
  const { header, cases: parts } = mergeResults(files.map((file) => loadResults(file, KINDS)));
  const { kind, tell } = CAMPAIGNS[header.kind] as Campaign;
  const cases = kind.settle(parts);
  if (out !== undefined) {
    mustBeWritable(out);
    writeResults(out, { header, cases });
  }
  noteOtherBuild(header);
  if (!json) say(`${NOTICE}\n`);
  process.exitCode = tell(header, cases, { json });
}

/** @throws InputError when a part would be written over */
function mustBeNew(out: string, files: readonly string[]): void {
  for (const file of files)
    if (isSameFile(file, out)) throw new InputError(`--out ${out} would write over ${file}`);
}

/** What is written is the same; what is told goes by this program's list of codes. */
function noteOtherBuild({ software, build }: ResultsHeader): void {
  const here = buildHash();
  if (software !== SOFTWARE || build !== here)
    complain(
      `these are results of ${software}, build ${build}; they are told with the codes of ${SOFTWARE}, build ${here}`,
    );
}
