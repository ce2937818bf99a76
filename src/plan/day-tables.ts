/** A planned day in rows, the same for the terminal, for paper and for CSV. */
import { dayTime } from './day-clock.js';
import { type Drawn, KIND_TEXT, type Spread } from './day-draws.js';
import { priceAt } from './day-files.js';
import type { DayInput } from './day-input.js';
import type { DayPlan } from './plan-day.js';
import { percent } from './route-words.js';

export interface Grid {
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

const kwh = (value: number): string => `${value.toFixed(1)} kWh`;
/** Without the sign that rounding leaves on nothing. */
const signless = (value: number): number => (Math.abs(value) < 0.05 ? 0 : value);

export function trainRows({ run }: DayPlan): Grid {
  return {
    head: ['train', 'lowest', 'at', 'at the end', 'charged', 'cells', 'late departures'],
    rows: run.trains.map((t) => [
      t.train,
      percent(t.lowestSoc),
      dayTime(t.lowestAtS),
      percent(t.endSoc),
      kwh(t.chargedKwh),
      `${t.coldestC.toFixed(1)} to ${t.hottestC.toFixed(1)} °C`,
      t.lateDepartures === 0 ? 'none' : `${t.lateDepartures}, up to ${Math.round(t.worstLateS)} s`,
    ]),
  };
}

export function balanceRows({ balance }: DayPlan): Grid {
  const { lossKwh } = balance;
  return {
    head: ['in', '', 'out', ''],
    rows: [
      ['grid', kwh(balance.gridKwh), 'trains, at their rafts', kwh(balance.trainsKwh)],
      ['renewables', kwh(balance.renewableKwh), 'lost in converters', kwh(lossKwh.converter)],
      ['engine-driven sets', kwh(balance.fuelKwh), 'lost in cables and contacts', kwh(lossKwh.line)],
      ['', '', 'lost charging the store', kwh(lossKwh.charging)],
      ['', '', 'lost emptying the store', kwh(lossKwh.discharging)],
      ['', '', 'lost standing in the store', kwh(lossKwh.standing)],
      ['', '', 'more in the store than before', kwh(signless(balance.storeChangeKwh))],
    ],
  };
}

export function costRows(plan: DayPlan, { tariff }: DayInput): Grid {
  const money = (value: number): string => `${value.toFixed(2)} ${tariff.currency}`;
  const { cost, atOnce } = plan;
  return {
    head: ['', 'as planned', 'made up at once'],
    rows: [
      ['energy from the grid', money(cost.energy), money(atOnce.energy)],
      ['peak of the grid', money(cost.peak), money(atOnce.peak)],
      ['fuel', money(cost.fuel), money(atOnce.fuel)],
      ['together', money(cost.total), money(atOnce.total)],
    ],
  };
}

export function storeRows(
  plan: DayPlan,
  { store, tariff }: DayInput,
): readonly (readonly [string, string])[] {
  const { supply } = plan.run;
  const { cost, boundCost } = plan.storePlan;
  const least = plan.leastCapacityKwh;
  return [
    ['lowest', `${kwh(supply.lowestKwh)}; floor ${kwh(store.floorShare * store.capacityKwh)}`],
    ['highest', `${kwh(supply.highestKwh)}; ceiling ${kwh(store.ceilingShare * store.capacityKwh)}`],
    ['given to trains', kwh(supply.drawnKwh)],
    [
      'must hold at least',
      least === null
        ? 'no capacity is enough: its powers or the connection are too small'
        : `${kwh(least)}, all else as it is; it holds ${kwh(store.capacityKwh)}`,
    ],
    [
      'grid peak',
      `${supply.peakStepKw.toFixed(1)} kW in the mean of a step, ${supply.peakKw.toFixed(1)} kW at most; connection ${tariff.maxGridKw} kW`,
    ],
    ['renewables', `${kwh(supply.renewableKwh)} used of ${kwh(supply.offeredKwh)}`],
    [
      'charging plan',
      `${cost.toFixed(4)} ${tariff.currency}; proven: no plan of these steps costs less than ${boundCost.toFixed(4)} ${tariff.currency}`,
    ],
  ];
}

export function callRows({ run }: DayPlan): Grid {
  return {
    head: ['train', 'at', 'arrives', 'departs', 'from', 'to', 'energy', 'ends by', 'late'],
    rows: run.calls.map((c) => [
      c.train,
      c.at,
      dayTime(c.arrivesS),
      dayTime(c.departsS),
      percent(c.socFrom),
      percent(c.socTo),
      c.done.energyKwh > 0 ? kwh(c.done.energyKwh) : '–',
      c.done.energyKwh > 0 ? `${c.done.endReason}${c.heldBy === null ? '' : `, ${c.heldBy}`}` : '–',
      c.lateS > 0 ? `${Math.round(c.lateS)} s` : '–',
    ]),
  };
}

export function drawnRows(drawn: readonly Drawn[]): Grid {
  const three = (spread: Spread, digits: number, times = 1): string =>
    [spread.p5, spread.p50, spread.p95].map((v) => (v * times).toFixed(digits)).join(' / ');
  return {
    head: ['what', 'days', 'fail', 'late', 'train lowest %', 'store lowest kWh', 'late s', 'cost', 'peak kW'],
    rows: drawn.map((d) => [
      KIND_TEXT[d.kind],
      String(d.days),
      String(d.failed),
      String(d.lateDays),
      three(d.lowestTrainSoc, 1, 100),
      three(d.lowestStoreKwh, 0),
      three(d.worstLateS, 0),
      three(d.cost, 0),
      three(d.peakKw, 0),
    ]),
  };
}

/** Tables for other programs: one file each, plain numbers, units in the heads. */
export function dayCsv(plan: DayPlan, { day, tariff }: DayInput): Record<string, Grid> {
  const { supply, calls, trains } = plan.run;
  const n = (value: number): string => String(Number(value.toFixed(6)));
  return {
    steps: {
      head: [
        'from_s',
        'price_per_kwh',
        'grid_kw',
        'renewables_kw',
        'charge_kw',
        'trains_kw',
        'store_kwh',
        'planned_store_kwh',
      ],
      rows: supply.gridKw.map((kw, t) => {
        const from = day.from + t * day.stepS;
        return [
          ...[
            String(from),
            n(priceAt(tariff, from)),
            n(kw),
            n(supply.renewableKw[t]!),
            n(supply.chargeKw[t]!),
          ],
          ...[n(supply.trainsKw[t]!), n(supply.levelKwh[t]!), n(plan.schedule.levelKwh[t]!)],
        ];
      }),
    },
    calls: {
      head: [
        'train',
        'at',
        'arrives_s',
        'departs_s',
        'late_s',
        'feed',
        'soc_from',
        'soc_to',
        'energy_kwh',
        'supply_kwh',
        'peak_cell_c',
        'end_reason',
        'held_by',
      ],
      rows: calls.map((c) => [
        ...[c.train, c.at, n(c.arrivesS), n(c.departsS), n(c.lateS), c.feed ?? '', n(c.socFrom), n(c.socTo)],
        ...[n(c.done.energyKwh), n(c.done.supplyKwh), n(c.done.peakCellC), c.done.endReason, c.heldBy ?? ''],
      ]),
    },
    trains: {
      head: ['train', 'at_s', 'soc', 'cell_c'],
      rows: trains.flatMap((t) => t.points.map((p) => [t.train, n(p.atS), n(p.soc), n(p.cellC)])),
    },
  };
}

export const csvText = ({ head, rows }: Grid): string =>
  `${[head, ...rows].map((row) => row.map(quoted).join(',')).join('\r\n')}\r\n`;

const quoted = (cell: string): string => (/[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);
