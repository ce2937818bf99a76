/**
 * Stops of a day: what a train takes at a berth in the time it has. Either each by the very run of a single stop
 * (`fullStops`), or between a few such runs on an even grid of arrival states (`quickStops`), for what must be asked
 * very often.
 */
import type { Rig } from '../rig/schema.js';
import type { Lead } from './lead.js';
import { runStop, STEP_S, type StopRun } from './stop-run.js';
import { type StopStart, TrainModel } from './train-model.js';

/** A train at a charger: the charger's rig with the train's battery. */
export interface Pair {
  readonly key: string;
  readonly rig: Rig;
  readonly lead: Lead;
}

export interface StopCall {
  readonly start: StopStart;
  readonly toSoc: number;
  /** At the rafts; Infinity where it does not bind. */
  readonly energyKwh: number;
  readonly dwellS: number;
  /** What the supply may give at most. */
  readonly supplyKw: number;
}

/** Energy from the supply over a time within the stop. */
export interface Slice {
  readonly fromS: number;
  readonly toS: number;
  readonly kwh: number;
}

export interface StopDone {
  readonly durationS: number;
  readonly energyKwh: number;
  readonly supplyKwh: number;
  readonly converterKwh: number;
  readonly lineKwh: number;
  readonly socEnd: number;
  readonly cellC: number;
  readonly peakCellC: number;
  readonly peakSupplyKw: number;
  readonly endReason: string;
  readonly slices: readonly Slice[];
}

export type StopSource = (pair: Pair, call: StopCall) => StopDone;

const SLICE_S = 10;
/** A long charge is stepped more coarsely: its limits move slowly. */
const STEPS = 600;
const COARSEST_S = 5;

export const nothingTaken = ({ start }: StopCall, endReason: string): StopDone => ({
  ...{ durationS: 0, energyKwh: 0, supplyKwh: 0, converterKwh: 0, lineKwh: 0, slices: [], peakSupplyKw: 0 },
  ...{ socEnd: start.soc, cellC: start.cellC, peakCellC: start.cellC, endReason },
});

/** Between the first current and the ramp down there must be something. */
const leastDwellS = ({ lead }: Pair): number => lead.toCurrentS + lead.atHoldPointS + lead.toFreeS + 5;

const capped = (rig: Rig, supplyKw: number): Rig => {
  const { supply } = rig;
  return supplyKw * 1000 >= supply.maxPowerW
    ? rig
    : { ...rig, supply: { ...supply, maxPowerW: 1000 * supplyKw } };
};

function run(pair: Pair, call: StopCall, stepS: number, keeps: boolean): StopRun {
  const { start, toSoc, energyKwh, dwellS, supplyKw } = call;
  return runStop(capped(pair.rig, supplyKw), {
    ...{ start, lead: pair.lead, dwellS, stepS, keeps, socTo: toSoc },
    energyKwh: Number.isFinite(energyKwh) ? energyKwh : Number.NaN,
  });
}

export function fullStops(): StopSource {
  const known = new Map<string, StopDone>();
  return (pair, call) => {
    if (call.start.soc >= call.toSoc || call.dwellS < leastDwellS(pair)) return nothingTaken(call, 'none');
    const { start, toSoc, energyKwh, dwellS, supplyKw } = call;
    const key = [pair.key, start.soc, start.cellC, start.ambientC, toSoc, energyKwh, dwellS, supplyKw].join();
    const before = known.get(key);
    if (before !== undefined) return before;
    const stepS = Math.min(COARSEST_S, Math.max(STEP_S, dwellS / STEPS));
    const done = doneOf(pair, call, run(pair, call, stepS, true));
    known.set(key, done);
    return done;
  };
}

function doneOf({ rig }: Pair, { start }: StopCall, stop: StopRun): StopDone {
  // A run tells of the hottest cell; from stop to stop goes the mean one.
  const aboveMeanK = new TrainModel(rig, start).hottestCellC - start.cellC;
  const { converter, line } = stop.lossKwh;
  const slices: { fromS: number; toS: number; kwh: number }[] = [];
  let beforeS = stop.points[0]?.atS ?? 0;
  for (const { atS, supplyKw } of stop.points) {
    const kwh = (supplyKw * (atS - beforeS)) / 3600;
    const last = slices.at(-1);
    if (atS > beforeS) {
      if (last !== undefined && atS - last.fromS <= SLICE_S) {
        last.toS = atS;
        last.kwh += kwh;
      } else slices.push({ fromS: beforeS, toS: atS, kwh });
    }
    beforeS = atS;
  }
  return {
    ...{ durationS: stop.durationS, energyKwh: stop.energyKwh, supplyKwh: stop.supplyKwh },
    ...{ converterKwh: converter, lineKwh: line, socEnd: stop.socEnd },
    cellC: stop.end.cellC - aboveMeanK,
    ...{ peakCellC: stop.peak.cellC, peakSupplyKw: stop.peak.supplyKw, endReason: stop.endReason, slices },
  };
}

/** Distance of the grid of arrival states: between those of charge it goes straight, of temperatures the nearest is taken. */
const NODE_SOC = 0.04;
/** In the cold a kelvin decides whether anything is permitted at all: nothing goes straight there. */
const NODE_C = 1;
/** Of dwells, for short and for long ones. */
const NODE_DWELL_S = 15;
const NODE_LONG_S = 300;
const LONG_S = 1200;
const QUICK_STEPS = 150;
const QUICK_FINEST_S = 2;
/** A management unit filters over 4 s; coarser steps would make it swing. */
const QUICK_COARSEST_S = 6;

export function quickStops(): StopSource {
  const known = new Map<string, StopDone>();
  const reached = new Map<string, StopDone>();
  const at = (pair: Pair, call: StopCall, socNode: number, cellNode: number, dwellS: number): StopDone => {
    const { toSoc, supplyKw } = call;
    const { ambientC } = call.start;
    const open = [pair.key, socNode, cellNode, toSoc, supplyKw, ambientC].join();
    const key = `${open},${dwellS}`;
    const before = known.get(key);
    if (before !== undefined) return before;
    const content = reached.get(open);
    if (content !== undefined && content.durationS <= dwellS) return content;
    const start = { soc: socNode * NODE_SOC, cellC: cellNode * NODE_C, ambientC };
    const asked: StopCall = { ...call, start, dwellS, energyKwh: Number.POSITIVE_INFINITY };
    const stepS = Math.min(QUICK_COARSEST_S, Math.max(QUICK_FINEST_S, dwellS / QUICK_STEPS));
    const done =
      start.soc >= toSoc
        ? nothingTaken(asked, 'target')
        : { ...doneOf(pair, asked, run(pair, asked, stepS, false)), slices: [] };
    // What has all it wants takes no more in a longer time.
    if (done.endReason !== 'deadline') reached.set(open, done);
    known.set(key, done);
    return done;
  };
  return (pair, call) => {
    if (call.start.soc >= call.toSoc || call.dwellS < leastDwellS(pair)) return nothingTaken(call, 'none');
    const x = Math.max(0, call.start.soc) / NODE_SOC;
    const low = Math.floor(x);
    const cellNode = Math.round(call.start.cellC / NODE_C);
    const nodeS = call.dwellS < LONG_S ? NODE_DWELL_S : NODE_LONG_S;
    const dwellS = Math.max(NODE_DWELL_S, Math.floor(call.dwellS / nodeS) * nodeS);
    const near = [
      { weight: 1 - x + low, done: at(pair, call, low, cellNode, dwellS) },
      ...(x > low ? [{ weight: x - low, done: at(pair, call, low + 1, cellNode, dwellS) }] : []),
    ];
    return between(pair, call, cellNode * NODE_C, near);
  };
}

function between(
  { lead }: Pair,
  call: StopCall,
  cellThere: number,
  near: readonly { readonly weight: number; readonly done: StopDone }[],
): StopDone {
  const mean = (pick: (done: StopDone) => number): number =>
    near.reduce((sum, { weight, done }) => sum + weight * pick(done), 0);
  const energyKwh = mean((d) => d.energyKwh);
  // Less than could be had: so much shorter, by its share.
  const share = energyKwh > call.energyKwh ? call.energyKwh / energyKwh : 1;
  const supplyKwh = share * mean((d) => d.supplyKwh);
  const durationS = Math.min(
    call.dwellS,
    mean((d) => d.durationS),
  );
  const fromS = Math.min(lead.toCurrentS, durationS);
  const toS = Math.max(fromS + 1, fromS + share * (durationS - lead.toCurrentS - lead.toFreeS));
  return {
    ...{ durationS, supplyKwh, energyKwh: share * energyKwh },
    converterKwh: share * mean((d) => d.converterKwh),
    lineKwh: share * mean((d) => d.lineKwh),
    socEnd: Math.min(call.toSoc, call.start.soc + share * (mean((d) => d.socEnd) - call.start.soc)),
    cellC: call.start.cellC + share * (mean((d) => d.cellC) - cellThere),
    peakCellC: call.start.cellC + share * (mean((d) => d.peakCellC) - cellThere),
    peakSupplyKw: Math.max(...near.map(({ done }) => done.peakSupplyKw)),
    endReason: near.reduce((most, one) => (one.weight > most.weight ? one : most)).done.endReason,
    slices: supplyKwh > 0 ? [{ fromS, toS, kwh: supplyKwh }] : [],
  };
}
