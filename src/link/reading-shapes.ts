/**
 * The readings of each role as one literal each, in the dictionary's order (src/rig/roles.ts). The dictionary
 * alone could say it in a loop, but in an object grown key by key through one shared loop every field has its
 * shape looked up anew (such stores stood high in the profile of a session). A test holds
 * this file against the dictionary.
 */
import type { ReadingOf, Role } from '../rig/roles.js';

/** The values of one reading, one after the other. */
export interface Values {
  next(): number;
}

export interface Shape<R extends Role> {
  /** Builds a reading of the values that come, one after the other in the dictionary's order. */
  readonly build: (from: Values) => ReadingOf<R>;
  /** Its values in the dictionary's order. */
  readonly values: (reading: ReadingOf<R>) => readonly number[];
}

export const SHAPES: { readonly [R in Role]: Shape<R> } = {
  device: {
    build: (from) => ({
      sample: from.next(),
      clockMs: from.next(),
      latched: from.next(),
      madeSafe: from.next(),
      rejectedFrames: from.next(),
    }),
    values: (r) => [r.sample, r.clockMs, r.latched, r.madeSafe, r.rejectedFrames],
  },
  converter: {
    build: (from) => ({
      sample: from.next(),
      state: from.next(),
      outputV: from.next(),
      outputA: from.next(),
      appliedSetpointA: from.next(),
      appliedLimitV: from.next(),
      temperatureC: from.next(),
    }),
    values: (r) => [
      r.sample,
      r.state,
      r.outputV,
      r.outputA,
      r.appliedSetpointA,
      r.appliedLimitV,
      r.temperatureC,
    ],
  },
  meter: {
    build: (from) => ({
      sample: from.next(),
      currentA: from.next(),
      currentMinA: from.next(),
      currentMaxA: from.next(),
      outputV: from.next(),
      outputMinV: from.next(),
      outputMaxV: from.next(),
      plugV: from.next(),
      plugMinV: from.next(),
      plugMaxV: from.next(),
      outputPositiveV: from.next(),
      outputNegativeV: from.next(),
      plugPositiveV: from.next(),
      plugNegativeV: from.next(),
      cableC: from.next(),
      contactC: from.next(),
    }),
    values: (r) => [
      r.sample,
      r.currentA,
      r.currentMinA,
      r.currentMaxA,
      r.outputV,
      r.outputMinV,
      r.outputMaxV,
      r.plugV,
      r.plugMinV,
      r.plugMaxV,
      r.outputPositiveV,
      r.outputNegativeV,
      r.plugPositiveV,
      r.plugNegativeV,
      r.cableC,
      r.contactC,
    ],
  },
  loop: {
    build: (from) => ({
      sample: from.next(),
      meanA: from.next(),
      rmsA: from.next(),
      peakPositiveA: from.next(),
      peakNegativeA: from.next(),
      pilotOn: from.next(),
    }),
    values: (r) => [r.sample, r.meanA, r.rmsA, r.peakPositiveA, r.peakNegativeA, r.pilotOn],
  },
  isolation: {
    build: (from) => ({
      sample: from.next(),
      point: from.next(),
      resistor: from.next(),
      injecting: from.next(),
      positiveV: from.next(),
      negativeV: from.next(),
    }),
    values: (r) => [r.sample, r.point, r.resistor, r.injecting, r.positiveV, r.negativeV],
  },
  contactor: {
    build: (from) => ({
      sample: from.next(),
      closedP: from.next(),
      closedN: from.next(),
      closedPre: from.next(),
      coilP: from.next(),
      coilN: from.next(),
      coilPre: from.next(),
    }),
    values: (r) => [r.sample, r.closedP, r.closedN, r.closedPre, r.coilP, r.coilN, r.coilPre],
  },
  bleeder: {
    build: (from) => ({
      sample: from.next(),
      outputOn: from.next(),
      plugOn: from.next(),
      temperatureC: from.next(),
    }),
    values: (r) => [r.sample, r.outputOn, r.plugOn, r.temperatureC],
  },
  latch: {
    build: (from) => ({
      sample: from.next(),
      seated: from.next(),
      locked: from.next(),
      senseP: from.next(),
      senseN: from.next(),
      plateCovered: from.next(),
    }),
    values: (r) => [r.sample, r.seated, r.locked, r.senseP, r.senseN, r.plateCovered],
  },
  berth: {
    build: (from) => ({
      sample: from.next(),
      atStand: from.next(),
      brakeOn: from.next(),
      tractionInhibited: from.next(),
      bondOhm: from.next(),
    }),
    values: (r) => [r.sample, r.atStand, r.brakeOn, r.tractionInhibited, r.bondOhm],
  },
  train: {
    build: (from) => ({
      sample: from.next(),
      closedP: from.next(),
      closedN: from.next(),
      trainV: from.next(),
    }),
    values: (r) => [r.sample, r.closedP, r.closedN, r.trainV],
  },
  raft: {
    build: (from) => ({
      sample: from.next(),
      packV: from.next(),
      packA: from.next(),
      joined: from.next(),
      isolationOhm: from.next(),
      cellMinV: from.next(),
      cellMaxV: from.next(),
      cellMinC: from.next(),
      cellMaxC: from.next(),
      soc: from.next(),
      allowedA: from.next(),
      alarm: from.next(),
      generatorRunning: from.next(),
    }),
    values: (r) => [
      r.sample,
      r.packV,
      r.packA,
      r.joined,
      r.isolationOhm,
      r.cellMinV,
      r.cellMaxV,
      r.cellMinC,
      r.cellMaxC,
      r.soc,
      r.allowedA,
      r.alarm,
      r.generatorRunning,
    ],
  },
  supply: {
    build: (from) => ({
      sample: from.next(),
      ready: from.next(),
      breakerClosed: from.next(),
      frequencyHz: from.next(),
      voltageV: from.next(),
      powerW: from.next(),
    }),
    values: (r) => [r.sample, r.ready, r.breakerClosed, r.frequencyHz, r.voltageV, r.powerW],
  },
  stop: {
    build: (from) => ({
      sample: from.next(),
      chainClosed: from.next(),
      buttonPressed: from.next(),
    }),
    values: (r) => [r.sample, r.chainClosed, r.buttonPressed],
  },
};
