/** What a session ended in, as data, and the exit code it stands for. */
import { CATALOGUE, type Code, type Effect } from '../checks/catalogue.js';
import type { EndReason } from '../checks/check.js';
import type { Phase } from '../rig/roles.js';
import type { Accounts, BindingSpan } from './accounts.js';
import type { SessionLog } from './log.js';

/** Every exit code of the program. */
export const EXIT = {
  released: 0,
  internalFault: 1,
  badInput: 2,
  trippedSafe: 3,
  refused: 4,
  recordNotIntact: 5,
  diverged: 6,
  requirementFailed: 7,
  inconclusive: 8,
  notProvenDead: 9,
} as const;

export const EXIT_TEXT: Readonly<Record<number, string>> = {
  0: 'released, or the command did what was asked',
  1: 'internal fault of loopwarden itself',
  2: 'bad input: a file, an option or a port; nothing was ordered',
  3: 'tripped and proven safe',
  4: 'refused: the session never left parked, or an order was not permitted',
  5: 'the record is not intact',
  6: 'decisions diverge on replay, or an invariant is broken',
  7: 'a requirement failed',
  8: 'inconclusive',
  9: 'TRIPPED, NOT PROVEN DEAD: keep away',
};

export interface EndState {
  readonly provenDead: boolean;
  readonly polesProvenOpen: boolean;
  readonly outputDead: boolean;
  readonly plugDead: boolean;
  readonly plugLocked: boolean;
}

export interface TripRecord {
  readonly code: Code;
  readonly part: string | null;
  readonly effect: Effect;
  readonly phase: Phase;
  readonly atS: number;
  readonly reading: number | null;
  readonly limit: number | null;
  readonly unit: string;
  readonly setting: string;
  /** First out-of-limit sample to decision. */
  readonly detectedAfterMs: number;
  /** Simulated faults only: fault to decision. */
  readonly fromInjectionMs: number | null;
}

export interface Refusal {
  readonly code: Code;
  readonly part: string | null;
  readonly asked: string;
  readonly by: string;
  readonly atS: number;
  readonly reading: number | null;
  readonly limit: number | null;
  readonly unit: string;
  readonly setting: string;
  /** What was found, and what would permit it. */
  readonly text: string;
  readonly remedy: string;
}

export interface Outcome {
  readonly outcome: 'released' | 'tripped' | 'refused';
  readonly endReason: EndReason | Code;
  readonly endState: EndState;
  readonly trip: TripRecord | null;
  readonly refusals: readonly Refusal[];
  readonly durationS: number;
  readonly energyToBatteryKwh: number;
  readonly energyFromSupplyKwh: number;
  readonly lossesKwh: {
    readonly converter: number;
    readonly cableAndContacts: number;
    readonly train: number;
  };
  readonly peakCurrentA: number;
  readonly peakRampAPerS: number;
  readonly socStart: number | null;
  readonly socEnd: number | null;
  readonly residualVoltageAtReleaseV: number | null;
  readonly bindingLimits: readonly BindingSpan[];
  readonly phases: readonly { readonly name: Phase; readonly atS: number }[];
  /** Codes that were found, in order of first appearance, notes included. */
  readonly findings: readonly { readonly code: Code; readonly part: string | null; readonly atS: number }[];
  readonly rejectedFrames: number;
  readonly journal: string;
}

export function exitCodeOf(outcome: Pick<Outcome, 'outcome' | 'endState'>): number {
  if (outcome.outcome === 'released') return EXIT.released;
  if (outcome.outcome === 'refused') return EXIT.refused;
  return outcome.endState.provenDead ? EXIT.trippedSafe : EXIT.notProvenDead;
}

/** JSON has no NaN. */
export const orNull = (x: number | undefined): number | null =>
  x !== undefined && Number.isFinite(x) ? x : null;

/** What speaks against an order, before it becomes a refusal. */
export interface Found {
  readonly code: Code;
  readonly part?: string;
  readonly reading?: number;
  readonly limit?: number;
  readonly unit?: string;
  readonly setting?: string;
}

export function refusalOf(found: Found, asked: string, by: string, atS: number): Refusal {
  const entry = CATALOGUE[found.code];
  return {
    code: found.code,
    part: found.part ?? null,
    asked,
    by,
    atS,
    reading: orNull(found.reading ?? Number.NaN),
    limit: orNull(found.limit ?? Number.NaN),
    unit: found.unit ?? '',
    setting: found.setting ?? '',
    text: entry.text,
    remedy: entry.remedy,
  };
}

export function outcomeOf(session: {
  readonly log: SessionLog;
  readonly accounts: Accounts;
  readonly endState: EndState;
  readonly endReason: EndReason | null;
  readonly durationS: number;
  readonly rejectedFrames: number;
  readonly journal: string;
}): Outcome {
  const { log, accounts } = session;
  const started = log.startedMs !== null;
  const outcome = log.trip !== null ? 'tripped' : started ? 'released' : 'refused';
  const wished = session.endReason ?? 'operator';
  return {
    outcome,
    endReason: log.trip?.code ?? (started ? wished : (log.refusals[0]?.code ?? wished)),
    endState: session.endState,
    trip: log.trip,
    refusals: log.refusals,
    durationS: session.durationS,
    energyToBatteryKwh: accounts.energyToBatteryKwh,
    energyFromSupplyKwh: accounts.energyFromSupplyKwh,
    lossesKwh: accounts.lossesKwh,
    peakCurrentA: accounts.peakCurrentA,
    peakRampAPerS: accounts.peakRampAPerS,
    socStart: orNull(accounts.socStart),
    socEnd: orNull(accounts.socEnd),
    residualVoltageAtReleaseV: outcome === 'released' ? orNull(accounts.residualV) : null,
    bindingLimits: accounts.binding,
    phases: log.phases,
    findings: log.found,
    rejectedFrames: session.rejectedFrames,
    journal: session.journal,
  };
}
