/** A plan's file: written by `plan stop --out`, taken up by `--plan` of a session. */
import { createHash } from 'node:crypto';
import { InputError } from '../host/input-error.js';
import { type PlanFile, type Planned, planFileSchema } from '../journal/planned.js';
import type { StopPlan } from '../plan/plan-stop.js';
import type { LoadedRig } from '../rig/load.js';
import { orNull } from '../supervisor/outcome.js';
import { textOf } from './option-file.js';

export function planFileOf({ run, wish, margins }: StopPlan, { rig, hash }: LoadedRig): string {
  const beside = (planned: number, { low, high }: { readonly low: number; readonly high: number }) => ({
    ...{ planned, low, high },
  });
  const file: PlanFile = {
    ...{ plan: 'stop', version: 1, rig: rig.name, rigHash: hash },
    wish: { targetSoc: orNull(wish.socTo), targetEnergyKwh: orNull(wish.energyKwh), maxS: run.latestDownS },
    expects: {
      energyKwh: beside(run.energyKwh, margins.energyKwh),
      socEnd: beside(run.socEnd, margins.socEnd),
      durationS: beside(run.durationS, margins.durationS),
    },
  };
  return `${JSON.stringify(file, null, 2)}\n`;
}

export interface TakenUp {
  readonly wish: PlanFile['wish'];
  readonly planned: Planned;
}

/** @throws InputError */
export function readPlan(path: string, { rig, hash }: LoadedRig): TakenUp {
  const text = textOf('--plan', path);
  const read = planFileSchema.safeParse(parsed(text));
  if (!read.success)
    throw new InputError(
      `--plan ${path}: this is no plan of a stop; write one with \`loopwarden plan stop … --out FILE\``,
    );
  const { rig: name, rigHash, wish, expects } = read.data;
  if (rigHash !== hash)
    throw new InputError(
      `--plan ${path}: it was made for rig ${name}${name === rig.name ? ' with other figures' : ''}, not for ${rig.name} as it is; plan anew`,
    );
  const planned = { plan: createHash('sha256').update(text).digest('hex'), ...expects };
  return { wish, planned };
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

/** @throws InputError where a target is given twice */
export function noOtherTarget(given: Readonly<Record<string, unknown>>): void {
  const other = Object.entries(given).find(([, value]) => value !== undefined);
  if (other !== undefined)
    throw new InputError(`--plan and ${other[0]}: the plan gives the target; leave out one of the two`);
}

/** As a scenario writes it: what is not asked for is left out. */
export const wishAsked = ({ targetSoc, targetEnergyKwh, maxS }: PlanFile['wish']) => ({
  maxS,
  ...(targetSoc === null ? {} : { targetSoc }),
  ...(targetEnergyKwh === null ? {} : { targetEnergyKwh }),
});
