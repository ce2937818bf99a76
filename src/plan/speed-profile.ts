/**
 * How a train runs along a route and what that takes at the wheels: as fast as the line permits, with even
 * acceleration and braking, no more than its power gives, standing where it stops.
 *
 *     F = m(1+ρ)·dv/dt + A + B·v + C·v² + m·g·climb/length
 *
 * Work above 0 is traction, below 0 braking. Within a piece the acceleration is constant, so that work over a part of
 * its speeds goes with the difference of their squares.
 */
import { InputError } from '../host/input-error.js';
import type { Route } from './route.js';

export const GRAVITY_MPS2 = 9.80665;
const PIECE_M = 25;
/** Standing is told in pieces no longer than this: temperatures change within minutes. */
const STANDING_S = 30;
const JOULE_A_KWH = 3.6e6;
/** Slower than this uphill is standing still. */
const STALLED_MPS = 0.3;

export interface Piece {
  readonly section: number;
  /** At its end. */
  readonly km: number;
  readonly heightM: number;
  readonly seconds: number;
  readonly mps: number;
  /** At the wheels. */
  readonly tractionKwh: number;
  readonly brakingKwh: number;
  /** Of the braking: faster than the cut-off of regeneration. */
  readonly aboveCutOffKwh: number;
  readonly resistanceKwh: number;
  /** At the train bus, where it was measured, with auxiliaries; null where it is reckoned. */
  readonly measuredKwh: number | null;
}

/** @throws InputError where the train has not the power for a climb */
export function profileOf(route: Route): Piece[] {
  const pieces: Piece[] = [];
  let km = 0;
  let heightM = 0;
  const speeds = speedsOf(route);
  route.sections.forEach((section, s) => {
    const { lengthKm, climbM, topSpeedKmh, energyKwhPerKm, stopS } = section;
    const count = countOf(lengthKm);
    const at = (i: number): { km: number; heightM: number } => ({
      km: km + (lengthKm * i) / count,
      heightM: heightM + (climbM * i) / count,
    });
    for (let i = 1; i <= count; i++)
      pieces.push(
        energyKwhPerKm === undefined
          ? { section: s, ...at(i), ...workOf(route, s, speeds[s]![i - 1]!, speeds[s]![i]!) }
          : {
              ...{ section: s, ...at(i), mps: topSpeedKmh / 3.6, ...NO_WORK },
              seconds: (lengthKm / count / topSpeedKmh) * 3600,
              measuredKwh: (energyKwhPerKm * lengthKm) / count,
            },
      );
    ({ km, heightM } = at(count));
    const parts = Math.ceil(stopS / STANDING_S);
    for (let i = 0; i < parts; i++)
      pieces.push({ ...{ section: s, km, heightM, mps: 0 }, ...NO_WORK, seconds: stopS / parts });
  });
  return pieces;
}

const NO_WORK = {
  tractionKwh: 0,
  brakingKwh: 0,
  aboveCutOffKwh: 0,
  resistanceKwh: 0,
  measuredKwh: null,
} as const;

const countOf = (lengthKm: number): number => Math.max(4, Math.ceil((1000 * lengthKm) / PIECE_M));

function resistanceN({ train }: Route, meanMps: number, meanSquare: number): number {
  const { constantN, linearNPerMps, squareNPerMps2 } = train.resistance;
  return constantN + linearNPerMps * meanMps + squareNPerMps2 * meanSquare;
}

const gradeN = ({ train, sections }: Route, s: number): number =>
  (train.massKg * GRAVITY_MPS2 * sections[s]!.climbM) / (1000 * sections[s]!.lengthKm);

const inertiaKg = ({ train }: Route): number => train.massKg * (1 + train.rotatingShare);

/** Speeds at the ends of all pieces, by section: first what may be, then what braking and power leave of it. */
function speedsOf(route: Route): number[][] {
  const { sections, train } = route;
  // A section of measured energy begins and ends standing, as far as its neighbours are concerned.
  const isMeasured = (s: number): boolean => sections[s]?.energyKwhPerKm !== undefined;
  const stands = (s: number): boolean =>
    s < 0 || s === sections.length - 1 || sections[s]!.stopS > 0 || isMeasured(s) || isMeasured(s + 1);
  const top = (s: number): number => sections[s]!.topSpeedKmh / 3.6;
  const speeds = sections.map(({ lengthKm }, s) => {
    const most = new Array<number>(countOf(lengthKm) + 1).fill(top(s));
    most[0] = stands(s - 1) ? 0 : Math.min(top(s), top(s - 1));
    most[most.length - 1] = stands(s) ? 0 : Math.min(top(s), top(s + 1));
    return most;
  });
  for (let s = sections.length - 1; s >= 0; s--) {
    const own = speeds[s]!;
    const lengthM = (1000 * sections[s]!.lengthKm) / (own.length - 1);
    const next = speeds[s + 1]?.[0];
    if (next !== undefined) own[own.length - 1] = Math.min(own.at(-1)!, next);
    for (let i = own.length - 2; i >= 0; i--)
      own[i] = Math.min(own[i]!, Math.sqrt(own[i + 1]! ** 2 + 2 * train.brakingMPerS2 * lengthM));
  }
  for (const [s, own] of speeds.entries()) {
    const before = speeds[s - 1]?.at(-1);
    if (before !== undefined) own[0] = Math.min(own[0]!, before);
    for (let i = 0; i + 1 < own.length; i++) own[i + 1] = Math.min(own[i + 1]!, reached(route, s, own[i]!));
  }
  return speeds;
}

/** Speed at the end of a piece that begins with this one. */
function reached(route: Route, s: number, fromMps: number): number {
  const { train, sections } = route;
  const { lengthKm } = sections[s]!;
  const lengthM = (1000 * lengthKm) / countOf(lengthKm);
  let toMps = Math.sqrt(fromMps ** 2 + 2 * train.accelerationMPerS2 * lengthM);
  // Power goes with the speed that comes of it: a few rounds are near enough.
  for (let round = 0; round < 6; round++) {
    const mean = (fromMps + toMps) / 2;
    const square = (fromMps ** 2 + toMps ** 2) / 2;
    const spareN = (1000 * train.maxTractionKw) / mean - resistanceN(route, mean, square) - gradeN(route, s);
    const accelerates = Math.min(train.accelerationMPerS2, spareN / inertiaKg(route));
    const next = Math.sqrt(Math.max(0, fromMps ** 2 + 2 * accelerates * lengthM));
    toMps = (toMps + next) / 2;
  }
  if (toMps < STALLED_MPS)
    throw new InputError(
      `route ${route.name}: the train comes to a stand in the section to ${sections[s]!.to}; ${train.maxTractionKw} kW (train.maxTractionKw) are not enough for ${sections[s]!.climbM} m over ${lengthKm} km`,
    );
  return toMps;
}

function workOf(route: Route, s: number, fromMps: number, toMps: number) {
  const { lengthKm } = route.sections[s]!;
  const lengthM = (1000 * lengthKm) / countOf(lengthKm);
  const mean = (fromMps + toMps) / 2;
  const againstN = resistanceN(route, mean, (fromMps ** 2 + toMps ** 2) / 2);
  const speedingN = (inertiaKg(route) * (toMps ** 2 - fromMps ** 2)) / (2 * lengthM);
  const kwh = ((speedingN + againstN + gradeN(route, s)) * lengthM) / JOULE_A_KWH;
  const brakingKwh = Math.max(0, -kwh);
  return {
    seconds: lengthM / mean,
    mps: mean,
    tractionKwh: Math.max(0, kwh),
    brakingKwh,
    aboveCutOffKwh: brakingKwh * shareAbove(route.train.regeneration.cutOffKmh / 3.6, fromMps, toMps),
    resistanceKwh: (againstN * lengthM) / JOULE_A_KWH,
    measuredKwh: null,
  };
}

/** Of work under constant acceleration from one speed to another: what is done faster than a speed. */
function shareAbove(cutMps: number, fromMps: number, toMps: number): number {
  const [low, high] = [Math.min(fromMps, toMps), Math.max(fromMps, toMps)];
  if (low >= cutMps) return 1;
  if (high <= cutMps) return 0;
  return (high ** 2 - cutMps ** 2) / (high ** 2 - low ** 2);
}
