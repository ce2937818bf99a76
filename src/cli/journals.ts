/** `loopwarden journals`: what many journals say together: a summary, an export, an answer to a question in SQL. */
import { type Command, InvalidArgumentError } from 'commander';
import { gather } from '../fleet/gather.js';
import type { Loaded } from '../fleet/load.js';
import type { FleetSummary } from '../fleet/summary.js';
import { EXIT } from '../supervisor/outcome.js';
import { writeDriftPlot } from './drift-plot.js';
import { tellFleet } from './journals-tell.js';
import { NOTICE } from './notice.js';
import { complain, figure, say, table } from './print.js';

interface SummaryOptions {
  readonly replay?: boolean;
  readonly within: number;
  readonly plot?: string;
  readonly json?: boolean;
}

const MOST_WEEKS = 5200;
const weeks = (text: string): number => {
  const value = Number(text);
  if (text.trim() === '' || !(value > 0 && value <= MOST_WEEKS))
    throw new InvalidArgumentError(`expected weeks above 0, at most ${MOST_WEEKS}`);
  return value;
};

export function addJournals(program: Command): void {
  const journals = program.command('journals').description('what many journals say together');
  journals
    .command('summary')
    .description('verify every journal below a folder, add them up, and warn of what drifts towards a limit')
    .argument('<dir>', 'folder with journals (*.ndjson), also in folders below it')
    .option('--replay', 'decide every one anew as well: exact margins, and several times as long')
    .option('--within <weeks>', 'warn of a limit that would be met within this', weeks, 26)
    .option('--plot <file>', 'the drift of each rig as a picture (SVG)')
    .option('--json', 'one JSON object')
    .action(summary);
  journals
    .command('export')
    .description('tables for any analytical engine: Parquet, parted by rig and month')
    .argument('<dir>', 'folder with journals')
    .requiredOption('--parquet <folder>', 'where to; must not be there yet, or be empty')
    .action(exportTables);
  journals
    .command('query')
    .description('one SELECT over the same tables, from journals or from an exported folder')
    .argument('<sql>', 'see src/fleet/TABLES.md')
    .argument('<dir>', 'folder with journals, or with Parquet')
    .option('--json', 'every row as one JSON object, a line each')
    .action(query);
}

/** On a terminal only: elsewhere it would be noise. */
function progress(done: number, of: number): void {
  if (process.stderr.isTTY)
    process.stderr.write(`\r${done} of ${of} journals ${done === of ? '\r\x1b[K' : ''}`);
}

async function summary(folder: string, options: SummaryOptions): Promise<void> {
  const { replay = false, within: withinWeeks, plot, json } = options;
  const all = await gather({ folder, replay, withinWeeks, onProgress: progress });
  if (json) say(JSON.stringify(all));
  else {
    say(`${NOTICE}\n`);
    tellFleet(all, withinWeeks);
  }
  if (plot !== undefined) {
    const drawn = await writeDriftPlot(plot, all);
    complain(drawn ? `drift drawn into ${plot}` : '--plot: no session has a figure that could drift');
  }
  process.exitCode = exitOf(all);
}

/** As an audit of the worst of them, decisions that another version may make left aside. */
function exitOf({ notIntact, diverging, unfinished }: FleetSummary): number {
  if (notIntact > 0) return EXIT.recordNotIntact;
  if (diverging > 0) return EXIT.diverged;
  return unfinished > 0 ? EXIT.inconclusive : EXIT.released;
}

/** What was left out must not go unsaid, and must not stand between the figures. */
function complainOf({ problems }: Loaded): void {
  for (const { file, row, what } of problems) complain(`${file}: ${row}${what && `: ${what}`}`);
}

async function exportTables(folder: string, options: { readonly parquet: string }): Promise<void> {
  const { exportParquet } = await import('../fleet/export.js');
  const loaded = await exportParquet(folder, options.parquet, progress);
  complainOf(loaded);
  const rows = Object.entries(loaded.rows).map(([name, count]) => [name, String(count)]);
  say(table(['table', 'rows'], rows, [1]));
  say(
    `\n${loaded.journals} journals, ${loaded.problems.length} with something to say of them, into ${options.parquet}`,
  );
}

/** A person reads no more; all of them are in --json. */
const MOST_ROWS = 200;

async function query(sql: string, folder: string, options: { readonly json?: boolean }): Promise<void> {
  const { ask } = await import('../fleet/query.js');
  let names: readonly string[] = [];
  const shown: string[][] = [];
  let more = false;
  await ask({
    sql,
    folder,
    onProgress: progress,
    onLoaded: (loaded) => loaded !== null && complainOf(loaded),
    onColumns: (columns) => {
      names = columns;
    },
    onRow: (row) => {
      if (options.json) say(JSON.stringify(Object.fromEntries(names.map((name, k) => [name, row[k]]))));
      else if (shown.length < MOST_ROWS) shown.push(row.map(cell));
      else more = true;
      return !more;
    },
  });
  if (options.json) return;
  say(table(names, shown));
  if (more) say(`… more than ${MOST_ROWS} rows: --json gives all`);
}

const cell = (value: unknown): string => {
  if (value === null || value === undefined) return '–';
  if (typeof value === 'number') return Number.isInteger(value) ? String(value) : figure(value, 6);
  return typeof value === 'string' ? value : JSON.stringify(value);
};
