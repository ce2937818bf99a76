/** The figures of a planned day, all over the same time of day: trains, store, power, price, cells. */
import type { FigureChart, Line } from '../paper/chart.js';
import { priceAt } from './day-files.js';
import type { DayInput } from './day-input.js';
import type { DayPlan } from './plan-day.js';

export interface DayFigure {
  readonly id: string;
  readonly title: string;
  readonly text: string;
  readonly chart: FigureChart;
}

/** More lines in one figure cannot be told apart in black and white. */
const LINES_A_FIGURE = 4;

export function dayFigures(plan: DayPlan, input: DayInput): DayFigure[] {
  const { day, store, tariff } = input;
  const { run, schedule } = plan;
  const { supply } = run;
  const x = [day.from / 3600, day.until / 3600] as const;
  const common = { x, xTitle: 'time of day, h' };
  const hour = (step: number): number => (day.from + step * day.stepS) / 3600;
  const held = (name: string, values: readonly number[]): Line => ({
    ...{ name, holds: true },
    points: [...values.map((kw, t) => [hour(t), kw] as const), [hour(values.length), values.at(-1) ?? 0]],
  });
  const floors = [...new Set(day.trains.map((t) => input.trainRig(t).battery.floorSoc))];
  const groups = Array.from({ length: Math.ceil(run.trains.length / LINES_A_FIGURE) }, (_, g) =>
    run.trains.slice(g * LINES_A_FIGURE, (g + 1) * LINES_A_FIGURE),
  );
  const over = (
    name: string,
    pick: (p: DayPlan['run']['trains'][number]['points'][number]) => number,
  ): { name: string; lines: Line[] }[] =>
    groups.map((group) => ({
      name,
      lines: group.map((t) => ({
        name: t.train,
        points: t.points.map((p) => [p.atS / 3600, pick(p)] as const),
      })),
    }));
  return [
    ...over('State of charge of the trains', (p) => 100 * p.soc).map(({ name, lines }, g) => ({
      ...{ id: `trains-${g + 1}`, title: name, text: 'Every train must stay above the floor of its rig.' },
      chart: {
        ...{ ...common, unit: '%', lines, height: 150 },
        rules: floors.map((floor) => ({ name: 'floor', y: 100 * floor })),
      },
    })),
    {
      ...{ id: 'store', title: 'Level of the trackside store' },
      text: 'As simulated with every stop; as planned is what the cheapest charging foresees at each step.',
      chart: {
        ...{ ...common, unit: 'kWh', fromZero: true, height: 130 },
        lines: [
          { name: 'simulated', points: supply.levelKwh.map((kwh, t) => [hour(t), kwh] as const) },
          { name: 'as planned', points: schedule.levelKwh.map((kwh, t) => [hour(t), kwh] as const) },
        ],
        rules: [
          { name: 'floor', y: store.floorShare * store.capacityKwh },
          { name: 'ceiling', y: store.ceilingShare * store.capacityKwh },
        ],
      },
    },
    {
      ...{ id: 'grid', title: 'What feeds the store: grid and renewables' },
      text: 'Mean of each step; the highest step of the grid is what the peak is paid for.',
      chart: {
        ...{ ...common, unit: 'kW', fromZero: true, height: 120 },
        lines: [
          held('grid', supply.gridKw),
          held('renewables used', supply.renewableKw),
          held('into the store', supply.chargeKw),
        ],
        rules: [{ name: 'highest of the grid', y: supply.peakStepKw }],
      },
    },
    {
      ...{ id: 'load', title: 'What the trains take, from store, grid and engine-driven sets' },
      text: 'Mean of each step: a stop of five minutes is one bar.',
      chart: {
        ...{ ...common, unit: 'kW', fromZero: true, height: 100 },
        lines: [held('all trains', supply.trainsKw)],
      },
    },
    {
      ...{ id: 'price', title: 'Price of energy from the grid' },
      text: 'The store is charged where this is low, as far as its level and the paid peak permit.',
      chart: {
        ...{ ...common, unit: `${tariff.currency}/kWh`, fromZero: true, height: 80 },
        lines: [
          held(
            'price',
            supply.gridKw.map((_, t) => priceAt(tariff, day.from + t * day.stepS)),
          ),
        ],
      },
    },
    ...over('Temperature of the cells', (p) => p.cellC).map(({ name, lines }, g) => ({
      ...{ id: `cells-${g + 1}`, title: name, text: 'Mean cell of each train, between its calls and runs.' },
      chart: { ...common, unit: '°C', lines, leastSpan: 10, height: 110 },
    })),
  ];
}
