/** A planned stop as a picture: current under its limit with the name of what binds, heat, energy, and the supply. */
import type { Band, FigureChart, Line } from '../paper/chart.js';
import { figureSpec } from '../paper/chart-spec.js';
import { stackOf } from '../paper/stack.js';
import { specToSvg } from '../paper/svg.js';
import type { Rig } from '../rig/schema.js';
import type { StopPlan } from './plan-stop.js';
import type { PlanPoint } from './stop-run.js';

const MOST_POINTS = 600;
const TITLES = ['Current, and what binds it', 'Heat', 'Energy to the rafts', 'What the supply gives'];
/** A limit that binds for less of the stop than this has no room for its name. */
const NAMED_SHARE = 0.01;

function line(name: string, points: readonly PlanPoint[], y: (p: PlanPoint) => number): Line {
  return { name, points: points.map((p) => [p.atS, y(p)] as const) };
}

export async function stopPlot(
  plan: StopPlan,
  rig: Rig,
  title: string,
  told: readonly string[],
  notice: readonly string[],
): Promise<string> {
  const { run, wish } = plan;
  const every = Math.max(1, Math.ceil(run.points.length / MOST_POINTS));
  const points = run.points.filter((_, i) => i % every === 0 || i === run.points.length - 1);
  const toS = Math.min(wish.dwellS, Math.max(run.durationS, 1));
  const x = [0, toS] as const;
  const bands: Band[] = run.binding
    .filter((b) => b.toS - b.fromS >= NAMED_SHARE * toS)
    .map((b, i) => ({ number: i + 1, name: b.limit, from: b.fromS, to: b.toS }));
  const { cable, contact } = rig.connection;
  const charts: FigureChart[] = [
    {
      ...{ unit: 'A', xTitle: 's since the start was asked for', x, bands, fromZero: true, height: 150 },
      part: 'upper',
      lines: [line('current', points, (p) => p.currentA), line('least limit', points, (p) => p.leastA)],
    },
    {
      ...{ unit: '°C', xTitle: 's since the start was asked for', x, leastSpan: 10, height: 110 },
      part: 'upper',
      lines: [
        line('hottest cell', points, (p) => p.cellC),
        line('conductor', points, (p) => p.cableC),
        line('contact', points, (p) => p.contactC),
      ],
      rules: [
        { name: 'cells derate', y: rig.battery.raft.derateFromC },
        { name: 'conductor derates', y: cable.derateFromC },
        { name: 'contact derates', y: contact.derateFromC },
      ],
    },
    {
      ...{ unit: 'kWh', xTitle: 's since the start was asked for', x, fromZero: true, height: 100 },
      part: 'upper',
      lines: [line('energy', points, (p) => p.energyKwh)],
      rules: [{ name: 'wished', y: plan.wishedKwh }],
    },
    {
      ...{ unit: 'kW', xTitle: 's since the start was asked for', x, fromZero: true, height: 100 },
      lines: [line('from the supply', points, (p) => p.supplyKw)],
      rules: [{ name: 'supply at most', y: rig.supply.maxPowerW / 1000 }],
    },
  ];
  const figures: { title: string; svg: string }[] = [];
  for (const [i, chart] of charts.entries()) {
    const spec = figureSpec(chart);
    if (spec !== null) figures.push({ title: TITLES[i] ?? '', svg: await specToSvg(spec) });
  }
  return stackOf({ title, lines: told, figures, foot: notice });
}
