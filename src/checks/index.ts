/**
 * All checks in the order they are run. When several fail in one step, the one named first is the first-out,
 * so what explains comes before what follows from it.
 */
import type { Code } from './catalogue.js';
import { cells } from './cells.js';
import type { Check } from './check.js';
import { contactors } from './contactors.js';
import { freshness } from './freshness.js';
import { generator } from './generator.js';
import { heat } from './heat.js';
import { holdPoint } from './hold-point.js';
import { isolationDead } from './isolation-dead.js';
import { journal } from './journal.js';
import { overCurrent } from './over-current.js';
import { overVoltage } from './over-voltage.js';
import { plausibility } from './plausibility.js';
import { polesOpen } from './poles-open.js';
import { precharge } from './precharge.js';
import { presenceLoop } from './presence-loop.js';
import { presenceShoes } from './presence-shoes.js';
import { raftIsolation } from './raft-isolation.js';
import { rafts } from './rafts.js';
import { ramp } from './ramp.js';
import { residual } from './residual.js';
import { reverseCurrent } from './reverse-current.js';
import { securing } from './securing.js';
import { standingLimits } from './standing-limits.js';
import { stopChain } from './stop-chain.js';
import { supply } from './supply.js';
import { tracking } from './tracking.js';
import { trainContactors } from './train-contactors.js';
import { voltageMatch } from './voltage-match.js';
import { batteryWindow } from './window.js';

/** The list forgets what each check's state is: the caller keeps it and hands it back, and nobody else looks. */
const sealed = <S>(check: Check<S>): Check<unknown> => check as unknown as Check<unknown>;

export const CHECKS: readonly Check<unknown>[] = [
  sealed(stopChain),
  sealed(presenceLoop),
  sealed(presenceShoes),
  sealed(freshness),
  sealed(securing),
  sealed(isolationDead),
  sealed(voltageMatch),
  sealed(precharge),
  sealed(contactors),
  sealed(polesOpen),
  sealed(trainContactors),
  sealed(residual),
  sealed(reverseCurrent),
  sealed(ramp),
  sealed(overVoltage),
  sealed(rafts),
  sealed(raftIsolation),
  sealed(plausibility),
  sealed(tracking),
  sealed(overCurrent),
  sealed(holdPoint),
  sealed(heat),
  sealed(cells),
  sealed(batteryWindow),
  sealed(supply),
  sealed(generator),
  sealed(journal),
  sealed(standingLimits),
];

/** Codes the supervisor itself states. */
export const SUPERVISOR_CODES = [
  'trip-now',
  'internal-fault',
  'phase-overdue',
  'order-rejected',
  'order-unanswered',
] as const satisfies readonly Code[];

/** Names of the checks that can state a code. Isolation is stated by two: dead and live are different proofs. */
export const ownersOf = (code: Code): readonly string[] =>
  CHECKS.filter((check) => check.codes.includes(code)).map((check) => check.name);
