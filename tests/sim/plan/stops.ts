/** Stops drawn at random, and the session that the plan of one asks for, on the simulated bench. */
import { SeededRandom } from '../../../simulators/seeded-random.js';
import type { World } from '../../../simulators/world.js';
import { filesInMemory } from '../../../src/host/durable-file.js';
import type { StopPlan, StopWish } from '../../../src/plan/plan-stop.js';
import { runVirtual } from '../../../src/rehearsal/virtual-run.js';
import { type LoadedRig, loadRig } from '../../../src/rig/load.js';
import type { Rig } from '../../../src/rig/schema.js';

export interface DrawnStop {
  readonly loaded: LoadedRig;
  readonly wish: StopWish;
  readonly seed: number;
}

const RIGS = ['terminus-shoes', 'depot-cable', 'terminus-shoes', 'yard-precharge'].map((name) =>
  loadRig(name),
);

/** Every kind of end: wishes that fit and wishes that do not, warm and cold, nearly full and nearly empty. */
export function drawStop(seed: number): DrawnStop {
  const random = new SeededRandom(seed).fork('stop');
  const loaded = RIGS[seed % RIGS.length]!;
  const { floorSoc, ceilingSoc } = loaded.rig.battery;
  const soc = random.between(floorSoc, ceilingSoc - 0.05);
  const ambientC = random.between(5, 35);
  const cellC = Math.min(40, ambientC + random.between(0, 12));
  const dwellS = random.between(150, 420);
  return {
    ...{ loaded, seed },
    wish: {
      start: { soc, cellC, ambientC },
      dwellS,
      energyKwh: Number.NaN,
      socTo: random.between(soc + 0.02, ceilingSoc),
    },
  };
}

export interface Done {
  readonly outcome: string;
  readonly energyKwh: number;
  readonly socEnd: number;
  readonly durationS: number;
  readonly cellC: number;
  readonly cableC: number;
  readonly contactC: number;
}

/** The session of a plan: what it wished for, and the time at which it has the current come down. */
export async function sessionOf(
  { loaded, wish, seed }: DrawnStop,
  plan: StopPlan,
  built: Rig = loaded.rig,
  warmerK = 0,
): Promise<Done> {
  const { soc, cellC, ambientC } = wish.start;
  const { outcome, bench } = await runVirtual({
    loaded,
    // The supervisor reckons with the rig as written; only the bench is another.
    ...(built === loaded.rig ? {} : { proving: { relays: {}, built } }),
    scenario: {
      seed,
      start: { soc, cellC: cellC + warmerK, ambientC },
      ...{ inject: [], orders: [] },
      wish: {
        ...(plan.run.endReason === 'deadline' ? { maxS: plan.run.downAtS } : {}),
        ...(Number.isNaN(wish.socTo) ? { targetEnergyKwh: wish.energyKwh } : { targetSoc: wish.socTo }),
      },
    },
    ...{ stateDir: 'memory', latchFiles: filesInMemory(), journalPath: 'memory' },
    sink: { append: () => {}, close: async () => {} },
  });
  return {
    outcome: outcome.outcome,
    energyKwh: outcome.energyToBatteryKwh,
    socEnd: outcome.socEnd ?? Number.NaN,
    durationS: outcome.durationS,
    ...temperaturesOf(bench),
  };
}

/** The bench's own, not what its sensors said. */
function temperaturesOf({ parts }: World) {
  const { cable, rafts } = parts;
  return {
    cellC: Math.max(...rafts.map((r) => r.cellMaxC())),
    cableC: cable.conductorC,
    contactC: Math.max(cable.contactC.p, cable.contactC.n),
  };
}
