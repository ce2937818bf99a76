/** Is the dwell long enough, and what would make it so. */
import { InputError } from '../host/input-error.js';
import type { LoadedRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import { fixedLimits, leastLimit } from '../supervisor/governor.js';
import { type Arithmetic, arithmeticOf } from './arithmetic.js';
import { CHANGES, type Change, type Changed } from './change.js';
import { type Lead, leadOf } from './lead.js';
import { type Margins, marginsOf } from './margins.js';
import { energyBetweenKwh } from './range.js';
import { runStop, STEP_S, type StopRun } from './stop-run.js';
import { type StopStart, TrainModel } from './train-model.js';

export interface StopWish {
  readonly start: StopStart;
  /** One of them; NaN for the other. */
  readonly socTo: number;
  readonly energyKwh: number;
  readonly dwellS: number;
}

export interface Remedy {
  readonly change: string;
  readonly value: number;
  readonly unit: string;
  readonly text: string;
}

export interface StopPlan {
  readonly feasible: boolean;
  readonly wish: StopWish;
  readonly lead: Lead;
  readonly arithmetic: Arithmetic;
  /** The best that can be done within the dwell. */
  readonly run: StopRun;
  readonly margins: Margins;
  /** What the wish comes to, kWh at the terminals of the rafts. */
  readonly wishedKwh: number;
  readonly shortKwh: number;
  /** null where no dwell is long enough: it ends before, for another reason. */
  readonly leastDwellS: number | null;
  /** Why the wish ends early even with all the time there is. */
  readonly endsBy: string | null;
  readonly remedies: readonly Remedy[];
}

/** Reported states of charge differ from the true ones by about this. */
const SOC_COUNT = 5e-4;
const OPEN = Number.POSITIVE_INFINITY;
/** Values are looked for to this share of where they lie. */
const NEAR = 1 / 512;
/** A remedy is looked for in steps of the dwell's length over this, and no finer or coarser than these. */
const STEPS = 600;
const COARSEST_S = 5;

/** @throws InputError naming what in the wish cannot be */
export async function planStop(loaded: LoadedRig, wish: StopWish): Promise<StopPlan> {
  refuse(loaded.rig, wish);
  const { soc, cellC, ambientC } = wish.start;
  const lead = await leadOf(loaded, soc, cellC, ambientC);
  const { rig } = loaded;
  const run = runStop(rig, { ...wish, lead });
  // The time there is shows only where it runs out.
  const isHurried = run.endReason === 'deadline';
  const unhurried = isHurried ? runStop(rig, { ...wish, lead, dwellS: OPEN, keeps: false }) : run;
  const reaches = isReached(unhurried, wish);
  const wishedKwh = !Number.isNaN(wish.energyKwh)
    ? wish.energyKwh
    : reaches
      ? unhurried.energyKwh
      : energyBetweenKwh(rig, soc, wish.socTo);
  const feasible = reaches && isReached(run, wish);
  return {
    ...{ feasible, wish, lead, run, wishedKwh },
    margins: marginsOf(rig, { ...wish, lead, stepS: stepOf(wish) }, run),
    arithmetic: arithmetic(rig, wish, lead, wishedKwh),
    shortKwh: feasible ? 0 : Math.max(0, wishedKwh - run.energyKwh),
    leastDwellS: reaches ? unhurried.durationS : null,
    endsBy: reaches ? null : unhurried.endReason,
    remedies: feasible ? [] : remediesOf(rig, wish, lead, unhurried, reaches),
  };
}

const stepOf = ({ dwellS }: StopWish): number => Math.min(COARSEST_S, Math.max(STEP_S, dwellS / STEPS));

const isReached = (run: StopRun, wish: StopWish): boolean =>
  run.endReason === 'target' &&
  (Number.isNaN(wish.socTo) ? run.energyKwh >= wish.energyKwh * 0.995 : run.socEnd >= wish.socTo - SOC_COUNT);

function refuse({ name, battery }: Rig, { start, socTo, energyKwh, dwellS }: StopWish): void {
  const { floorSoc, ceilingSoc } = battery;
  if (!Number.isNaN(socTo) === !Number.isNaN(energyKwh))
    throw new InputError('give either --soc-to or --energy-kwh: one wish, not both and not none');
  if (socTo > ceilingSoc)
    throw new InputError(
      `--soc-to ${socTo}: above the ceiling of rig ${name}, ${ceilingSoc} (battery.ceilingSoc), which leaves room for regeneration`,
    );
  if (socTo <= start.soc)
    throw new InputError(`--soc-to ${socTo}: not above --soc-from ${start.soc}; nothing would be charged`);
  if (start.soc >= ceilingSoc)
    throw new InputError(`--soc-from ${start.soc}: at or above the ceiling of rig ${name}, ${ceilingSoc}`);
  if (start.soc < floorSoc / 2)
    throw new InputError(
      `--soc-from ${start.soc}: far below the floor of rig ${name}, ${floorSoc} (battery.floorSoc); a pack so empty is no matter for a stop`,
    );
  if (!(dwellS > 0)) throw new InputError('--dwell: expected a time, e.g. 4min or 240s');
}

function arithmetic(rig: Rig, wish: StopWish, lead: Lead, energyKwh: number): Arithmetic {
  const atV = new TrainModel(rig, wish.start).flow(0).trainV;
  const most = leastLimit(fixedLimits(rig, atV));
  return arithmeticOf({ energyKwh, powerS: wish.dwellS - lead.toCurrentS - lead.toFreeS, atV, most });
}

function remediesOf(rig: Rig, wish: StopWish, lead: Lead, unhurried: StopRun, reaches: boolean): Remedy[] {
  const found: Remedy[] = [];
  if (reaches)
    found.push({
      ...{ change: 'dwell', value: Math.ceil(unhurried.durationS), unit: 's' },
      text: 'a stop of this length, everything else as it is',
    });
  const stepS = stepOf(wish);
  const holds = ({ rig: changed, start }: Changed): boolean =>
    isReached(runStop(changed, { ...wish, start, lead, keeps: false, stepS }), { ...wish, start });
  for (const change of CHANGES) {
    const value = leastOf(change, rig, wish.start, holds);
    if (value !== null) found.push({ change: change.name, value, unit: change.unit, text: change.text });
  }
  return found;
}

/** The smallest change that does it, by halving; null where the greatest does not, or nothing is to be changed. */
function leastOf(
  change: Change,
  rig: Rig,
  start: StopStart,
  holds: (changed: Changed) => boolean,
): number | null {
  let from = change.now(rig, start);
  let to = change.most(rig, start);
  if (from === to || !holds(change.make(rig, start, to))) return null;
  if (change.whole) {
    for (let n = from + 1; n < to; n++) if (holds(change.make(rig, start, n))) return n;
    return to;
  }
  const near = Math.abs(to - from) * NEAR;
  while (Math.abs(to - from) > near) {
    const mid = (from + to) / 2;
    if (holds(change.make(rig, start, mid))) to = mid;
    else from = mid;
  }
  return Number(to.toPrecision(4));
}
