/**
 * Planning a day of many stops with a store and a tariff, against the solver alone on the same linear programme in the
 * same run; how both grow from 100 to 400 stops; and what the check with a full run of every stop costs.
 */
import { storeSchema, tariffSchema } from '../../dist/src/plan/day-files.js';
import { runDay } from '../../dist/src/plan/day-run.js';
import { leadOf } from '../../dist/src/plan/lead.js';
import { askOf, planDay } from '../../dist/src/plan/plan-day.js';
import { solver } from '../../dist/src/plan/solver.js';
import { fullStops, quickStops } from '../../dist/src/plan/stop-source.js';
import { planStore } from '../../dist/src/plan/store-plan.js';
import { timetableSchema } from '../../dist/src/plan/timetable.js';
import { loadRig } from '../../dist/src/rig/load.js';

const STOPS_A_TRAIN = 20;
const GOAL_MS = 500;
const REPEATS = 5;

const loaded = loadRig('terminus-shoes');
const { rig } = loaded;
const lead = await leadOf(loaded, 0.5, 25, 20);
const solve = await solver();

/** Processor time, ms: what else the machine does must not count. */
const cpuMs = () => process.cpuUsage().user / 1000;
const clock = (seconds) =>
  [seconds / 3600, (seconds / 60) % 60, seconds % 60]
    .map((v) => String(Math.floor(v)).padStart(2, '0'))
    .join(':');

/** Trains one after the other, each with a berth of its own and a stop of four minutes every 45. */
function dayOf(stops) {
  const trains = stops / STOPS_A_TRAIN;
  const day = timetableSchema.parse({
    ...{ name: 'bench', title: 'bench', from: '04:00', until: '24:00', stepS: 300, ambientC: 15 },
    berths: Array.from({ length: trains }, (_, t) => ({ name: `berth-${t}`, rig: 'terminus-shoes' })),
    trains: Array.from({ length: trains }, (_, t) => ({
      ...{ name: `train-${t}`, rig: 'terminus-shoes', startSoc: 0.7, startC: 18, auxiliariesKw: 20 },
      calls: Array.from({ length: STOPS_A_TRAIN }, (_, c) => ({
        ...{
          at: `berth-${t}`,
          arrives: clock(15000 + 137 * t + 2700 * c),
          departs: clock(15240 + 137 * t + 2700 * c),
        },
        ...(c > 0 ? { run: { energyKwh: 55 + (t % 5) } } : {}),
      })),
    })),
  });
  return {
    ...{ day, renewables: null, trainRig: () => rig, loadsTo: () => null },
    pairAt: () => ({ key: 'shoes', rig, lead }),
    store: storeSchema.parse({
      ...{ name: 'bench', title: 'bench', capacityKwh: 300 * trains, floorShare: 0.05, ceilingShare: 0.95 },
      ...{ startShare: 0.6, maxChargeKw: 130 * trains, maxDischargeKw: 1300 * trains, standingLossKw: 2 },
      ...{ chargeEfficiencyShare: 0.96, dischargeEfficiencyShare: 0.96, source: 'bench' },
    }),
    tariff: tariffSchema.parse({
      ...{ name: 'bench', title: 'bench', currency: 'EUR', peakPricePerKw: 0.2, maxGridKw: 130 * trains },
      periods: [
        { from: '00:00', pricePerKwh: 0.1 },
        { from: '06:00', pricePerKwh: 0.3 },
        { from: '10:00', pricePerKwh: 0.15 },
        { from: '17:00', pricePerKwh: 0.35 },
      ],
      ...{ fuelPricePerKwh: 0, source: 'bench' },
    }),
  };
}

async function timed(work) {
  const begun = cpuMs();
  const result = await work();
  return { ms: cpuMs() - begun, result };
}

/** The shortest of several: interruptions only ever add. */
async function shortest(work) {
  let best = await timed(work);
  for (let k = 1; k < REPEATS; k++) {
    const next = await timed(work);
    if (next.ms < best.ms) best = next;
  }
  return best;
}

const row = (...cells) =>
  process.stdout.write(
    `${cells.map((c, i) => (i === 0 ? String(c).padEnd(34) : String(c).padStart(11))).join('')}\n`,
  );

export async function run() {
  process.stdout.write(
    `plan of a day: ${STOPS_A_TRAIN} stops a train, steps of 5 min over 20 h; processor time, shortest of ${REPEATS}\n` +
      `goal: ${GOAL_MS} ms for 200 stops, and no worse than linear\n\n`,
  );
  const warm = dayOf(100);
  await planDay(warm, quickStops());
  row('', '100 stops', '200 stops', '400 stops');
  const found = [];
  for (const stops of [100, 200, 400]) {
    const input = dayOf(stops);
    const first = await shortest(() => planDay(input, quickStops()));
    const known = quickStops();
    await planDay(input, known);
    const again = await shortest(() => planDay(input, known));
    const ask = askOf(input, runDay(input, known, null));
    const alone = await shortest(() => planStore(ask, solve));
    const full = stops === 200 ? await timed(() => planDay(input, fullStops())) : null;
    found.push({ stops, first, again, alone, full });
  }
  const line = (what, pick) => row(what, ...found.map((f) => pick(f)));
  line('whole plan, no stop known, ms', (f) => f.first.ms.toFixed(0));
  line('whole plan, stops known, ms', (f) => f.again.ms.toFixed(0));
  line('solver alone, same programme, ms', (f) => f.alone.ms.toFixed(0));
  line('plan to solver, no stop known', (f) => (f.first.ms / f.alone.ms).toFixed(1));
  line('plan to solver, stops known', (f) => (f.again.ms / f.alone.ms).toFixed(1));
  line('works', (f) => String(f.first.result.feasible));
  const [hundred, twoHundred, fourHundred] = found;
  const growth = (a, b, pick) => (pick(b).ms / pick(a).ms).toFixed(2);
  process.stdout.write(
    `\ngrowth with twice the stops: ${growth(hundred, twoHundred, (f) => f.first)} and ${growth(twoHundred, fourHundred, (f) => f.first)} (2 is linear)\n` +
      `200 stops: ${twoHundred.first.ms.toFixed(0)} ms, goal ${GOAL_MS} ms: ${twoHundred.first.ms <= GOAL_MS ? 'kept' : 'missed'}\n` +
      `200 stops with a full run of every stop: ${(twoHundred.full.ms / 1000).toFixed(1)} s, ` +
      `trains get ${(100 * (twoHundred.full.result.balance.trainsKwh / twoHundred.first.result.balance.trainsKwh - 1)).toFixed(2)} % more than by the quick plan\n`,
  );
}
