/** A route's plan as one SVG: line and speed, state of charge, power, along the way. */
import type { FigureChart } from '../paper/chart.js';
import { figureSpec } from '../paper/chart-spec.js';
import { stackOf } from '../paper/stack.js';
import { specToSvg } from '../paper/svg.js';
import type { Rig } from '../rig/schema.js';
import type { RoutePlan } from './plan-route.js';
import type { Route } from './route.js';
import { verdictOf } from './route-words.js';

interface Figure {
  readonly title: string;
  readonly chart: FigureChart;
}

export function routeFigures(plan: RoutePlan, route: Route, { battery }: Rig): Figure[] {
  const { pieces, drive, lengthKm, setOut } = plan;
  const x = [0, lengthKm] as const;
  const xTitle = 'along the route, km';
  const moving = pieces.filter((p) => p.mps > 0);
  const stops = [route.from, ...route.sections.map((s) => s.to)];
  let km = 0;
  const marks = stops.map((text, i) => {
    if (i > 0) km += route.sections[i - 1]!.lengthKm;
    return { x: km, text };
  });
  const common = { x, xTitle };
  return [
    {
      title: 'Height above the beginning',
      chart: {
        ...{ ...common, unit: 'm', marks, height: 80 },
        lines: [{ name: 'line', points: [[0, 0], ...moving.map((p) => [p.km, p.heightM] as const)] }],
      },
    },
    {
      title: 'Speed',
      chart: {
        ...{ ...common, unit: 'km/h', fromZero: true, height: 90 },
        lines: [
          {
            name: 'train',
            points: [[0, 0], ...pieces.map((p) => [p.km, p.mps * 3.6] as const), [lengthKm, 0]],
          },
        ],
      },
    },
    {
      title: 'State of charge, and with how much to leave each stop',
      chart: {
        ...{ ...common, unit: '%', height: 170 },
        lines: [
          { name: 'as planned', points: drive.points.map((p) => [p.km, 100 * p.soc] as const) },
          {
            name: 'leave with at most',
            dots: true,
            points: setOut.map((s) => [s.km, 100 * s.highestSoc] as const),
          },
          {
            name: 'leave with at least',
            dots: true,
            points: setOut.map((s) => [s.km, s.lowestSoc === null ? null : 100 * s.lowestSoc] as const),
          },
        ],
        rules: [
          { name: 'floor', y: 100 * battery.floorSoc },
          { name: 'ceiling', y: 100 * battery.ceilingSoc },
        ],
      },
    },
    {
      title: 'Power of the rafts; below 0 it goes back into them',
      chart: {
        ...{ ...common, unit: 'kW', fromZero: true, height: 110 },
        lines: [{ name: 'rafts', points: drive.points.map((p) => [p.km, p.powerKw] as const) }],
      },
    },
  ];
}

export async function routePlot(
  plan: RoutePlan,
  route: Route,
  rig: Rig,
  notice: readonly string[],
): Promise<string> {
  const figures: { title: string; svg: string }[] = [];
  for (const { title, chart } of routeFigures(plan, route, rig)) {
    const spec = figureSpec(chart);
    if (spec !== null) figures.push({ title, svg: await specToSvg(spec) });
  }
  const lines = [`${route.title}; battery of ${rig.name}`, verdictOf(plan, route, rig), ...plan.warnings];
  return stackOf({ title: `Plan of the route ${route.name}`, lines, figures, foot: notice });
}
