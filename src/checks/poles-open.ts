/**
 * Each pole proven open by its auxiliary *and* by volts, without closing anything.
 *
 * A closed contact cannot have volts across it, and the voltmeters read each pole to chassis on both sides:
 * so volts across a pole, seen twice while the plug side holds its voltage, prove that pole open. What makes
 * the two sides part is the output bleeder for P (N still closed) and, for N, the known resistor that pulls
 * the plug side away from chassis. A pole that was never ordered closed is proven by its auxiliary, as long
 * as no volts contradict it. With no voltage on the plug side there is nothing to tell an open pole from a
 * closed one: the proof is then withheld, unless it was had before.
 */
import { MAKE_SAFE } from '../rig/make-safe.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import {
  type Check,
  type Finding,
  isAfterMakeSafe,
  isFresh,
  type Observation,
  type Proof,
  type Seen,
} from './check.js';
import { state, stateWatch } from './finding.js';
import { partedV } from './tolerance.js';
import { CALM, ripe, type Watch, watch } from './watch.js';
import { reportMarginMs } from './where.js';

type Pole = 'P' | 'N';
type Meter = ReadingOf<'meter'>;

export interface PoleState {
  /** Ordered closed at any time in this session. */
  readonly ever: boolean;
  /** Asked open by an order of its own, before any make-safe. */
  readonly orderedOpen: boolean;
  /** Samples in a row with volts across it since it was asked open. */
  readonly parted: number;
  readonly proven: boolean;
  /** Since when its volts should have parted; NaN while they could not tell. */
  readonly tellingMs: number;
  readonly stuckVolts: Watch;
  readonly stuckAux: Watch;
  /** Never ordered closed, and yet the two sides hang together. */
  readonly restWelded: Watch;
}
export interface PolesOpenState {
  readonly P: PoleState;
  readonly N: PoleState;
  /** Plug voltage while nothing had been asked open yet. */
  readonly plugBeforeV: number;
}

const POLE: PoleState = {
  ever: false,
  orderedOpen: false,
  parted: 0,
  proven: false,
  tellingMs: Number.NaN,
  stuckVolts: CALM,
  stuckAux: CALM,
  restWelded: CALM,
};
/** Once it was ordered closed. */
const CLOSED_POLE: PoleState = { ...POLE, ever: true };
const INITIAL: PolesOpenState = { P: POLE, N: POLE, plugBeforeV: Number.NaN };

/** When the device opens the poles by itself after one make-safe frame, ms (DEVELOPERS.md, Decisions). */
const MAKE_SAFE_MS = {
  P: MAKE_SAFE.openPLatestMs,
  N: MAKE_SAFE.openPLatestMs + MAKE_SAFE.openNAfterPMs,
} as const;
const PARTED_SAMPLES = 2;
/** The plug side holds its voltage while at least this share of it is left. */
const HELD_SHARE = 0.3;

const UNREAD = { outV: Number.NaN, plugV: Number.NaN };
const pick = (m: Meter, pole: Pole): { outV: number; plugV: number } =>
  pole === 'P'
    ? { outV: m.outputPositiveV, plugV: m.plugPositiveV }
    : { outV: m.outputNegativeV, plugV: m.plugNegativeV };

const auxOf = (c: Seen<'contactor'>, pole: Pole): number =>
  pole === 'P' ? c.value.closedP : c.value.closedN;
const orderOf = ({ ordered }: Observation, pole: Pole): { closed: boolean; sinceMs: number } =>
  pole === 'P'
    ? { closed: ordered.closedP, sinceMs: ordered.sinceMs.contactorP }
    : { closed: ordered.closedN, sinceMs: ordered.sinceMs.contactorN };

/** The voltmeters of each side agree among themselves: a dead one cannot stand for an open pole. */
function agree(m: Meter, rig: Rig): boolean {
  const tolV = Math.max(2 * rig.plausibility.voltageV, 0.03 * Math.abs(m.plugV));
  return (
    Math.abs(m.outputPositiveV - m.outputNegativeV - m.outputV) <= tolV &&
    Math.abs(m.plugPositiveV - m.plugNegativeV - m.plugV) <= tolV
  );
}

/** ms since the pole was asked open, by order or by make-safe; negative: not yet, NaN: never. */
function askedMs(seen: Observation, pole: Pole, ever: boolean, orderedOpen: boolean): number {
  const makeSafe = seen.ordered.sinceMs.makeSafe;
  const { closed, sinceMs } = orderOf(seen, pole);
  // Make-safe takes "closed" back at once, but the device opens the pole in its own time.
  if (Number.isFinite(makeSafe)) return orderedOpen ? sinceMs : makeSafe - MAKE_SAFE_MS[pole];
  return ever && !closed ? sinceMs : Number.NaN;
}

/** ms the two sides need to part by twice the margin, with room for leaner leakage than nominal. */
function partsWithinMs(m: Meter, pole: Pole, rig: Rig): number {
  const { outputOhm } = rig.bleeder;
  const { chargerOhm, chargerF } = rig.isolation.network;
  const fullV = pole === 'P' ? Math.abs(m.plugV) : Math.abs(m.plugNegativeV);
  const tauMs =
    1000 * (pole === 'P' ? 2 * outputOhm * rig.converter.capacitanceF : 3 * chargerOhm * chargerF);
  return rig.contactors.openMs - tauMs * Math.log(1 - (2 * partedV(rig)) / fullV) + reportMarginMs(rig);
}

function stepPole(
  before: PoleState,
  pole: Pole,
  plugBeforeV: number,
  contactor: Seen<'contactor'>,
  seen: Observation,
  rig: Rig,
): PoleState {
  const { closed } = orderOf(seen, pole);
  const ever = before.ever || closed;
  const aux = auxOf(contactor, pole);
  const orderedOpen = Number.isFinite(seen.ordered.sinceMs.makeSafe) ? before.orderedOpen : ever && !closed;
  const asked = askedMs(seen, pole, ever, orderedOpen);
  const meter = seen.meter;
  // Ordered closed: everything starts anew. A device may have opened it of its own accord: then volts may tell.
  if (closed && Number.isNaN(asked) && aux !== 0) return CLOSED_POLE;
  const lateMs = rig.contactors.openMs + reportMarginMs(rig);
  const stuckAux = watch(before.stuckAux, !(asked > lateMs) || aux === 0, contactor.isNew, seen.nowMs);
  let s: PoleState = { ...before, ever, orderedOpen, stuckAux };
  if (meter === null || !meter.isNew) return s;
  const m = meter.value;
  const { outV, plugV } = pick(m, pole);
  const acrossV = Math.abs(outV - plugV);
  if (!ever) return { ...s, restWelded: atRest(s.restWelded, acrossV, outV, seen, rig) };
  const held = Math.abs(m.plugV) >= Math.max(HELD_SHARE * Math.abs(plugBeforeV), rig.bleeder.safeV);
  const apart = held && agree(m, rig) && acrossV >= partedV(rig);
  const parted = apart && aux === 0 ? s.parted + 1 : 0;
  s = { ...s, parted, proven: s.proven || parted >= PARTED_SAMPLES };
  // Can these volts tell? P: the bleeder pulls the output down. N: the plug side is well away from chassis.
  const pulls = pole === 'P' ? seen.bleeder?.value.outputOn === 1 : Math.abs(plugV) >= 4 * partedV(rig);
  const telling = asked >= 0 && held && pulls && !s.proven;
  const tellingMs = telling ? (Number.isNaN(s.tellingMs) ? seen.nowMs : s.tellingMs) : Number.NaN;
  const due = telling && seen.nowMs - tellingMs >= partsWithinMs(m, pole, rig);
  return { ...s, tellingMs, stuckVolts: watch(s.stuckVolts, !due || apart, telling, seen.nowMs) };
}

/** With the converter never switched on, the output side has no reason to follow the plug away from chassis. */
function atRest(before: Watch, acrossV: number, outV: number, seen: Observation, rig: Rig): Watch {
  if (seen.phase !== 'joining-train' || seen.ordered.converterEnabled) return before;
  const hangsTogether = Math.abs(outV) >= 4 * partedV(rig) && acrossV <= rig.contactors.closedDropV;
  return watch(before, !hangsTogether, true, seen.nowMs);
}

function statement(s: PoleState, pole: Pole, aux: number, seen: Observation, rig: Rig): Finding {
  const { outV, plugV } = seen.meter === null ? UNREAD : pick(seen.meter.value, pole);
  const byVolts = ripe(s.stuckVolts, 2) ? s.stuckVolts : s.restWelded;
  if (ripe(s.stuckAux, 2) && !ripe(byVolts, 2)) {
    const against = { limit: 0, unit: '', setting: 'contactors.openMs' };
    return state('pole-welded', true, aux, against, s.stuckAux.sinceMs, pole);
  }
  const against = { limit: partedV(rig), unit: 'V', setting: 'plausibility.voltageV' };
  return stateWatch('pole-welded', byVolts, 2, 0, Math.abs(outV - plugV), against, seen.nowMs, pole);
}

export const polesOpen: Check<PolesOpenState> = {
  name: 'poles-open',
  codes: ['pole-welded'],
  initial: () => INITIAL,
  run(before, seen, rig) {
    const { contactor } = seen;
    if (contactor === null) return { state: INITIAL, findings: [] };
    const P = stepPole(before.P, 'P', before.plugBeforeV, contactor, seen, rig);
    const N = stepPole(before.N, 'N', before.plugBeforeV, contactor, seen, rig);
    const nothingAsked =
      Number.isNaN(askedMs(seen, 'P', P.ever, P.orderedOpen)) &&
      Number.isNaN(askedMs(seen, 'N', N.ever, N.orderedOpen));
    const plugV = seen.meter?.isNew ? seen.meter.value.plugV : Number.NaN;
    const plugBeforeV = nothingAsked && !Number.isNaN(plugV) ? plugV : before.plugBeforeV;
    const fresh = isFresh(contactor, rig.link.fastReadingMs) && isAfterMakeSafe(contactor, seen);
    const findings: Finding[] = [];
    const proofs: Proof[] = [];
    for (const [pole, s, proof] of [
      ['P', P, 'open-p'],
      ['N', N, 'open-n'],
    ] as const) {
      const aux = auxOf(contactor, pole);
      const welded = statement(s, pole, aux, seen, rig);
      findings.push(welded);
      const opened = s.ever ? s.proven : !ripe(s.restWelded, 1);
      if (fresh && aux === 0 && opened && !welded.failing) proofs.push(proof);
    }
    return { state: { P, N, plugBeforeV }, findings, proofs };
  },
};
