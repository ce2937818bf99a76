/** `loopwarden plan day`: a day of trains and stops with a trackside store, planned, simulated and drawn. */
import path from 'node:path';
import type { Command } from 'commander';
import { mustBeWritable, newFolderOnceWhole, writeDurably } from '../host/durable-file.js';
import { SOFTWARE } from '../host/version.js';
import { type Drawn, drawDays } from '../plan/day-draws.js';
import { type DayInput, readDay } from '../plan/day-input.js';
import { dayReport } from '../plan/day-report.js';
import {
  balanceRows,
  costRows,
  csvText,
  dayCsv,
  drawnRows,
  storeRows,
  trainRows,
} from '../plan/day-tables.js';
import { type DayPlan, planDay } from '../plan/plan-day.js';
import { fullStops, quickStops } from '../plan/stop-source.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { count, each, seed as seedNumber } from './numbers.js';
import { fold, paint, say, table } from './print.js';

interface Options {
  readonly timetable: string;
  readonly rig: readonly string[];
  readonly store: string;
  readonly tariff: string;
  readonly renewables?: string;
  readonly seed: number;
  readonly draws: number;
  readonly json?: boolean;
  readonly report?: string;
  readonly csv?: string;
}

const COLUMNS = 100;

export function addPlanDay(plan: Command): void {
  plan
    .command('day')
    .description(
      'a day of several trains with a trackside store: cheapest charging, simulated, with drawn days',
    )
    .requiredOption('--timetable <file>', 'timetable file, or the name of a shipped one')
    .requiredOption(
      '--rig <file>',
      'rig file or name; give it for each rig that the timetable names',
      each((text) => text),
    )
    .requiredOption('--store <file>', 'store file or name')
    .requiredOption('--tariff <file>', 'tariff file or name')
    .option('--renewables <file>', 'renewables file or name')
    .option('--seed <n>', 'of the drawn days: the same seed draws the same', seedNumber, 1)
    .option('--draws <n>', 'days drawn of each kind; 0 draws none', count, 25)
    .option('--json', 'one JSON object')
    .option('--report <file>', 'write a report as one HTML file')
    .option('--csv <folder>', 'write tables of steps, calls and trains into a new folder')
    .action(planADay);
}

async function planADay(options: Options): Promise<void> {
  const { timetable, rig: rigs, store, tariff, renewables, seed, draws, report, csv } = options;
  if (report !== undefined) mustBeWritable(report);
  const input = await readDay({
    ...{ timetable, rigs, store, tariff },
    ...(renewables === undefined ? {} : { renewables }),
  });
  const plan = await planDay(input, fullStops());
  const drawn = draws === 0 ? [] : drawDays(input, quickStops(), plan.schedule, { seed, days: draws });
  if (report !== undefined)
    writeDurably(
      report,
      await dayReport({ plan, input, drawn, seed, notice: NOTICE_LINES, software: SOFTWARE }),
    );
  if (csv !== undefined) await writeCsv(csv, plan, input);
  if (options.json)
    say(JSON.stringify({ notice: NOTICE_LINES, timetable: input.day.name, seed, ...plan, drawn }));
  else tell(plan, input, drawn, seed);
  process.exitCode = plan.feasible ? EXIT.released : EXIT.requirementFailed;
}

const writeCsv = (folder: string, plan: DayPlan, input: DayInput): Promise<void> =>
  newFolderOnceWhole(folder, async (beside) => {
    for (const [name, grid] of Object.entries(dayCsv(plan, input)))
      writeDurably(path.join(beside, `${name}.csv`), csvText(grid));
  });

function tell(plan: DayPlan, input: DayInput, drawn: readonly Drawn[], seed: number): void {
  say(`${NOTICE}\n`);
  say(paint('bold', input.day.title));
  say(
    paint(
      plan.feasible ? 'green' : 'red',
      plan.feasible ? 'the day works as planned' : 'the day does not work',
    ),
  );
  for (const fault of plan.faults) say(fold(`- ${fault}`, COLUMNS, '  '));
  const trains = trainRows(plan);
  say(`\n${table(trains.head, trains.rows, [1, 2, 3, 4])}`);
  say(`\n${table(['store and grid', ''], storeRows(plan, input))}`);
  const cost = costRows(plan, input);
  say(`\n${table(cost.head, cost.rows, [1, 2])}`);
  const balance = balanceRows(plan);
  say(`\n${table(balance.head, balance.rows, [1, 3])}`);
  if (drawn.length === 0) return;
  const draws = drawnRows(drawn);
  say(
    `\ndrawn days, seed ${seed}: what 5 / 50 / 95 of a hundred stay below; cost in ${input.tariff.currency}`,
  );
  say(table(draws.head, draws.rows, [1, 2, 3, 4, 5, 6, 7, 8]));
}
