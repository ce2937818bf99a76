/**
 * What must hold before anything may become live, and keeps holding until the plug is dead: train at the
 * stand, brake, traction, bond, plug seated and locked; in `securing` also: dead and open at rest.
 */
import type { Rig } from '../rig/schema.js';
import type { Code } from './catalogue.js';
import { type Check, type Finding, isFresh, type Observation, type Proof, type Seen } from './check.js';
import { type Against, flag, stateWatch } from './finding.js';
import { CALM, type Watch, watch } from './watch.js';

type Name =
  | 'stand'
  | 'brake'
  | 'traction'
  | 'bond'
  | 'seated'
  | 'locked'
  | 'rest'
  | 'auxP'
  | 'auxN'
  | 'auxPre';
export interface SecuringState {
  readonly watches: Readonly<Record<Name, Watch>>;
  /** The lock was confirmed in this session. */
  readonly wasLocked: boolean;
  /** Everything held at once in `securing`, on samples of that phase. */
  readonly wasSecured: boolean;
}

/** Two samples: one odd bit on the line or one bounce of a limit switch is not a lost train. */
const SAMPLES = 2;
/** A latch that has not confirmed this long after the order does not lock. */
const LOCK_MS = 3000;

/** Greatest voltage anywhere around the open contactors; NaN when any of them cannot be read. */
function restVolts(seen: Observation): number {
  const m = seen.meter?.value;
  if (m === undefined) return Number.NaN;
  const volts = [m.outputV, m.plugV, m.outputPositiveV, m.outputNegativeV, m.plugPositiveV, m.plugNegativeV];
  // Math.max is NaN as soon as one of them is.
  return Math.max(...volts.map(Math.abs));
}

type Source = Seen<'berth'> | Seen<'latch'> | Seen<'meter'> | Seen<'contactor'> | null;
interface Condition {
  readonly name: Name;
  readonly code: Code;
  readonly source: Source;
  readonly ok: boolean;
  readonly reading: number;
  readonly against: Against;
  readonly part: string | undefined;
}

const MUST = {
  atStand: flag(1, 'berth.atStand'),
  brakeOn: flag(1, 'berth.brakeOn'),
  tractionInhibited: flag(1, 'berth.tractionInhibited'),
  seated: flag(1, 'latch.seated'),
  locked: flag(1, 'latch.locked'),
  atRest: flag(0, 'contactors'),
} as const;

function conditions(state: SecuringState, seen: Observation, rig: Rig): Condition[] {
  const berth = seen.berth?.value;
  const latch = seen.latch?.value;
  const aux = seen.contactor?.value;
  const list: Condition[] = [];
  const add = (
    name: Name,
    code: Code,
    source: Source,
    ok: boolean,
    reading: number | undefined,
    against: Against,
    part?: string,
  ): void => {
    list.push({ name, code, source, ok, reading: reading ?? Number.NaN, against, part });
  };
  add('stand', 'berth-lost', seen.berth, berth?.atStand === 1, berth?.atStand, MUST.atStand);
  add('brake', 'brake-off', seen.berth, berth?.brakeOn === 1, berth?.brakeOn, MUST.brakeOn);
  add(
    'traction',
    'traction-live',
    seen.berth,
    berth?.tractionInhibited === 1,
    berth?.tractionInhibited,
    MUST.tractionInhibited,
  );
  const maxBondOhm = rig.berth.maxBondOhm;
  add('bond', 'bond-lost', seen.berth, berth !== undefined && berth.bondOhm <= maxBondOhm, berth?.bondOhm, {
    limit: maxBondOhm,
    unit: 'ohm',
    setting: 'berth.maxBondOhm',
  });
  add('seated', 'plug-unseated', seen.latch, latch?.seated === 1, latch?.seated, MUST.seated);
  // Not locked counts once the lock was confirmed, or was given its time; never after we ordered it free.
  const mustBeLocked = seen.ordered.locked && (state.wasLocked || seen.ordered.sinceMs.latch >= LOCK_MS);
  if (mustBeLocked) {
    add('locked', 'plug-unlocked', seen.latch, latch?.locked === 1, latch?.locked, MUST.locked);
  }
  if (seen.phase === 'securing') {
    const volts = restVolts(seen);
    add('rest', 'live-at-rest', seen.meter, volts <= rig.bleeder.safeV, volts, {
      limit: rig.bleeder.safeV,
      unit: 'V',
      setting: 'bleeder.safeV',
    });
  }
  const never = Number.POSITIVE_INFINITY;
  const { contactorP, contactorN, pre } = seen.ordered.sinceMs;
  const { atRest } = MUST;
  if (contactorP === never) {
    add('auxP', 'pole-closed-at-rest', seen.contactor, aux?.closedP === 0, aux?.closedP, atRest, 'P');
  }
  if (contactorN === never) {
    add('auxN', 'pole-closed-at-rest', seen.contactor, aux?.closedN === 0, aux?.closedN, atRest, 'N');
  }
  if (rig.precharge !== undefined && pre === never) {
    add('auxPre', 'pole-closed-at-rest', seen.contactor, aux?.closedPre === 0, aux?.closedPre, atRest, 'pre');
  }
  return list;
}

const CALM_ALL: Readonly<Record<Name, Watch>> = {
  stand: CALM,
  brake: CALM,
  traction: CALM,
  bond: CALM,
  seated: CALM,
  locked: CALM,
  rest: CALM,
  auxP: CALM,
  auxN: CALM,
  auxPre: CALM,
};

const INITIAL: SecuringState = { watches: CALM_ALL, wasLocked: false, wasSecured: false };

/** Fresh, and taken since this phase began: nothing is proven by a sample from before the question. */
function allFreshInPhase(seen: Observation, rig: Rig): boolean {
  const { fastReadingMs } = rig.link;
  return [seen.berth, seen.latch, seen.meter, seen.contactor].every(
    (role) => role !== null && role.ageMs <= fastReadingMs && role.ageMs < seen.phaseMs,
  );
}

export const securing: Check<SecuringState> = {
  name: 'securing',
  codes: [
    'berth-lost',
    'brake-off',
    'traction-live',
    'bond-lost',
    'plug-unseated',
    'plug-unlocked',
    'live-at-rest',
    'pole-closed-at-rest',
  ],
  initial: () => INITIAL,
  run(before, seen, rig) {
    if (seen.phase === 'released' || seen.phase === 'parked')
      return { state: INITIAL, findings: [], proofs: freeProof(seen, rig) };
    const list = conditions(before, seen, rig);
    // Laid out by hand, not spread: see check.ts.
    const w0 = before.watches;
    const watches: Record<Name, Watch> = {
      stand: w0.stand,
      brake: w0.brake,
      traction: w0.traction,
      bond: w0.bond,
      seated: w0.seated,
      locked: w0.locked,
      rest: w0.rest,
      auxP: w0.auxP,
      auxN: w0.auxN,
      auxPre: w0.auxPre,
    };
    const findings: Finding[] = [];
    for (const c of list) {
      const isNew = c.source?.isNew ?? false;
      // A sample from before the phase is not evidence of a failing condition either.
      const w = watch(watches[c.name], c.ok, isNew, seen.nowMs);
      watches[c.name] = w;
      findings.push(stateWatch(c.code, w, SAMPLES, 0, c.reading, c.against, seen.nowMs, c.part));
    }
    const isLocked = seen.latch?.value.locked === 1;
    const wasLocked = seen.ordered.locked && (before.wasLocked || (isLocked && (seen.latch?.isNew ?? false)));
    const holds = list.every((c) => c.ok) && isLocked && seen.ordered.locked;
    const wasSecured =
      before.wasSecured || (seen.phase === 'securing' && holds && allFreshInPhase(seen, rig));
    const stands =
      wasSecured &&
      // A single bad sample trips nothing, but nothing is made live on it either.
      holds &&
      isFresh(seen.berth, rig.link.fastReadingMs) &&
      isFresh(seen.latch, rig.link.fastReadingMs);
    const free = freeProof(seen, rig);
    const proofs = stands ? (['secured'] as readonly Proof[]).concat(free) : free;
    return { state: { watches, wasLocked, wasSecured }, findings, proofs };
  },
};

/** The plug is free when the latch says so after we ordered it, not because we ordered it. */
function freeProof(seen: Observation, rig: Rig): readonly Proof[] {
  const { latch, ordered } = seen;
  const { latch: sinceMs } = ordered.sinceMs;
  if (ordered.locked || !Number.isFinite(sinceMs) || !isFresh(latch, rig.link.fastReadingMs)) return [];
  return latch.ageMs < sinceMs && latch.value.locked === 0 ? ['plug-free'] : [];
}
