/**
 * Poles being closed and staying closed: by auxiliary, and both together by volts.
 *
 * Matched volts say nothing about a pole: open or closed, both sides read the same. So the converter is told
 * to pull slightly above the train; only two closed poles hold the output down.
 */
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation, type Proof, type Seen } from './check.js';
import { flag, stateWatch } from './finding.js';
import { between, underCurrent } from './phases.js';
import { CALM, type Watch, watch } from './watch.js';
import { reportMarginMs } from './where.js';

type Contact = 'P' | 'N' | 'pre';
const CONTACTS: readonly Contact[] = ['P', 'N', 'pre'];

export interface ContactorState {
  readonly notClosed: Readonly<Record<Contact, Watch>>;
  readonly dropped: Readonly<Record<Contact, Watch>>;
  /** Confirmed closed since it was ordered. */
  readonly wasClosed: Readonly<Record<Contact, boolean>>;
  /** Since when the converter has been pulling above the train against two closed auxiliaries; NaN: not. */
  readonly probingMs: number;
  readonly follows: number;
  readonly differs: Watch;
}

const none = <T>(value: T): Record<Contact, T> => ({ P: value, N: value, pre: value });
const copied = <T>(of: Readonly<Record<Contact, T>>): Record<Contact, T> => ({
  P: of.P,
  N: of.N,
  pre: of.pre,
});
const INITIAL: ContactorState = {
  notClosed: none(CALM),
  dropped: none(CALM),
  wasClosed: none(false),
  probingMs: Number.NaN,
  follows: 0,
  differs: CALM,
};

/** The converter is given this to lift an output that nothing holds; it needs far less. */
const PROBE_MS = 400;
const SAMPLES = 4;
const CLOSED = flag(1, 'contactors');

function auxiliary(c: ReadingOf<'contactor'>, contact: Contact): number {
  return contact === 'P' ? c.closedP : contact === 'N' ? c.closedN : c.closedPre;
}
function orderedClosed({ ordered }: Observation, contact: Contact): boolean {
  return contact === 'P' ? ordered.closedP : contact === 'N' ? ordered.closedN : ordered.closedPre;
}
function orderedSinceMs({ ordered: { sinceMs } }: Observation, contact: Contact): number {
  return contact === 'P' ? sinceMs.contactorP : contact === 'N' ? sinceMs.contactorN : sinceMs.pre;
}

type Probe = Pick<ContactorState, 'probingMs' | 'follows' | 'differs'>;

/** Follows the volts across the two closed poles while the converter pulls. */
function probe(s: ContactorState, bothClosed: boolean, seen: Observation, rig: Rig): Probe {
  const { meter, converter } = seen;
  if (meter === null || !meter.isNew) return s;
  const { plugV, outputV } = meter.value;
  const pulling = (converter?.value.appliedLimitV ?? Number.NaN) >= plugV + 0.5 * rig.contactors.probeV;
  const close = Math.abs(outputV - plugV) <= rig.contactors.closedDropV;
  if (!bothClosed) return { probingMs: Number.NaN, follows: 0, differs: CALM };
  const probingMs = pulling ? (Number.isNaN(s.probingMs) ? seen.nowMs : s.probingMs) : s.probingMs;
  const pulledLongEnough = seen.nowMs - probingMs >= PROBE_MS;
  const follows = close ? (pulledLongEnough ? s.follows + 1 : s.follows) : 0;
  return { probingMs, follows, differs: watch(s.differs, close, true, seen.nowMs) };
}

export const contactors: Check<ContactorState> = {
  name: 'contactors',
  codes: ['pole-not-closed', 'pole-volts-differ', 'pole-dropped-out'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const speaks = between(seen.phase, 'pre-charging', 'ramping-down') || underCurrent(seen.phase);
    const contactor = seen.contactor;
    if (!speaks || contactor === null) return { state: INITIAL, findings: [] };
    const allowedMs = rig.contactors.closeMs + reportMarginMs(rig);
    const findings: Finding[] = [];
    const notClosed = copied(before.notClosed);
    const dropped = copied(before.dropped);
    const wasClosed = copied(before.wasClosed);
    const late = { limit: rig.contactors.closeMs, unit: 'ms', setting: 'contactors.closeMs' };
    for (const contact of CONTACTS) {
      if (contact === 'pre' && rig.precharge === undefined) continue;
      const aux = auxiliary(contactor.value, contact);
      const closed = orderedClosed(seen, contact);
      const sinceMs = orderedSinceMs(seen, contact);
      const isNew = contactor.isNew;
      wasClosed[contact] = closed && (wasClosed[contact] || (isNew && aux === 1));
      const due = closed && !wasClosed[contact] && sinceMs > allowedMs;
      notClosed[contact] = watch(notClosed[contact], !due || aux === 1, isNew, seen.nowMs);
      dropped[contact] = watch(dropped[contact], !wasClosed[contact] || aux === 1, isNew, seen.nowMs);
      findings.push(
        stateWatch(
          'pole-not-closed',
          notClosed[contact],
          2,
          0,
          closed ? sinceMs : 0,
          late,
          seen.nowMs,
          contact,
        ),
        stateWatch('pole-dropped-out', dropped[contact], 2, 0, aux, CLOSED, seen.nowMs, contact),
      );
    }
    const bothClosed = contactor.value.closedP === 1 && contactor.value.closedN === 1;
    const { probingMs, follows, differs } = probe(before, bothClosed, seen, rig);
    const s: ContactorState = { notClosed, dropped, wasClosed, probingMs, follows, differs };
    const { outputV, plugV } = seen.meter?.value ?? { outputV: Number.NaN, plugV: Number.NaN };
    const against = { limit: rig.contactors.closedDropV, unit: 'V', setting: 'contactors.closedDropV' };
    // A moment after the second pole closes the two sides are still settling onto each other.
    const apartV = Math.abs(outputV - plugV);
    findings.push(stateWatch('pole-volts-differ', differs, SAMPLES, 150, apartV, against, seen.nowMs));
    return { state: s, findings, proofs: standing(s, contactor, seen, rig) };
  },
};

function standing(
  s: ContactorState,
  contactor: Seen<'contactor'>,
  seen: Observation,
  rig: Rig,
): readonly Proof[] {
  if (!isFresh(contactor, rig.link.fastReadingMs)) return [];
  const proofs: Proof[] = [];
  const closedP = s.wasClosed.P && contactor.value.closedP === 1;
  const closedN = s.wasClosed.N && contactor.value.closedN === 1;
  if (closedP) proofs.push('closed-p');
  if (closedN) proofs.push('closed-n');
  const follow = s.follows >= SAMPLES && isFresh(seen.meter, rig.link.fastReadingMs);
  if (closedP && closedN && follow) proofs.push('poles-follow');
  return proofs;
}
