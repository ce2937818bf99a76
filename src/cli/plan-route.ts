/** `loopwarden plan route`: what a route takes, how low the battery goes, and with how much to set out. */
import type { Command } from 'commander';
import { mustBeWritable, writeDurably } from '../host/durable-file.js';
import { planRoute, type RoutePlan } from '../plan/plan-route.js';
import { readPlanning } from '../plan/planning-file.js';
import { ROUTE, type Route, reversed } from '../plan/route.js';
import { routePlot } from '../plan/route-plot.js';
import { clockOf, energyRows, percent, rangeRows, setOutNote, verdictOf } from '../plan/route-words.js';
import { loadRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { celsius, share } from './numbers.js';
import { fold, paint, say, table } from './print.js';

interface Options {
  readonly route: string;
  readonly rig: string;
  readonly socFrom?: number;
  readonly ageing: number;
  readonly cellC: number;
  readonly ambientC: number;
  readonly reverse?: boolean;
  readonly json?: boolean;
  readonly plot?: string;
}

const COLUMNS = 100;

export function addPlanRoute(plan: Command): void {
  plan
    .command('route')
    .description('energy and state of charge along a route, room for regeneration, range')
    .requiredOption('--route <file>', 'route file, or the name of a shipped route')
    .option(
      '--rig <file>',
      'rig file, or the name of a shipped rig: its train and its limits',
      'terminus-shoes',
    )
    .option(
      '--soc-from <share>',
      'state of charge at the beginning; the ceiling of the rig when absent',
      share,
    )
    .option('--ageing <share>', 'of the capacity of new cells, what is left', share, 1)
    .option('--cell-c <degC>', 'temperature of the cells at the beginning', celsius, 20)
    .option('--ambient-c <degC>', 'temperature of the air', celsius, 20)
    .option('--reverse', 'the same line the other way')
    .option('--json', 'one JSON object')
    .option('--plot <file>', 'draw it into an SVG file')
    .action(planARoute);
}

async function planARoute(options: Options): Promise<void> {
  const { rig } = loadRig(options.rig);
  const read = readPlanning(ROUTE, options.route).value;
  const route = options.reverse ? reversed(read) : read;
  if (options.plot !== undefined) mustBeWritable(options.plot);
  const { ageing, cellC, ambientC, socFrom = rig.battery.ceilingSoc } = options;
  const plan = planRoute(rig, route, { socFrom, ageing, cellC, ambientC });
  if (options.plot !== undefined) writeDurably(options.plot, await routePlot(plan, route, rig, NOTICE_LINES));
  if (options.json) {
    const { pieces, ...rest } = plan;
    say(JSON.stringify({ notice: NOTICE_LINES, route: route.name, rig: rig.name, ...rest }));
  } else tell(plan, route, rig);
  process.exitCode = plan.feasible ? EXIT.released : EXIT.requirementFailed;
}

function tell(plan: RoutePlan, route: Route, rig: Rig): void {
  const { lengthKm, runS, wish } = plan;
  const verdict = verdictOf(plan, route, rig);
  say(`${NOTICE}\n`);
  say(paint('bold', route.title));
  say(
    `${lengthKm.toFixed(1)} km in ${clockOf(runS)}, battery of ${rig.name}, from ${percent(wish.socFrom)}, cells ${wish.cellC} °C, air ${wish.ambientC} °C`,
  );
  say(`\n${paint(plan.feasible ? 'green' : 'red', fold(verdict, COLUMNS, '  '))}`);
  for (const warning of plan.warnings) say(paint('yellow', fold(warning, COLUMNS, '  ')));
  say(`\n${table(['energy', '', ''], energyRows(plan), [1])}`);
  say(
    `\n${table(
      ['leave', 'km', 'planned', 'at least', 'at most'],
      plan.setOut.map((s) => [
        s.from,
        s.km.toFixed(1),
        percent(s.plannedSoc),
        s.lowestSoc === null ? 'none' : percent(s.lowestSoc),
        percent(s.highestSoc),
      ]),
      [1, 2, 3, 4],
    )}`,
  );
  for (const note of setOutNote(plan)) say(fold(note, COLUMNS, '  '));
  say(`\n${table(['range', '', ''], rangeRows(plan, rig), [1])}`);
}
