/**
 * What recordings at several temperatures add: the activation energies, found together with everything else. Each
 * round solves for the parameters that are linear and for steps of those that are not (Gauss and Newton), whose
 * columns are the change of the computed volts; so the uncertainty of each counts in that of all others.
 */
import type { Solution } from './normal-equations.js';
import { type Activation, BELIEVED, BELIEVED_SD } from './raft-activation.js';
import {
  type Bearings,
  type Equations,
  type MoreColumns,
  NO_COLUMNS,
  type Point,
  type SearchRecord,
  type Try,
} from './raft-equations.js';
import { type Shape, Walker, walk } from './raft-model.js';
import { TAU_1, TAU_2 } from './raft-priors.js';
import { voltsAt } from './raft-residuals.js';
import { RANGE_1_S, RANGE_2_S } from './raft-search.js';

/** Standard deviations: of the logarithms of the time constants, and of the activation energies in J/mol. */
export interface PointSd {
  readonly tau1Log: number;
  readonly tau2Log: number;
  readonly activation: Activation;
}

/** The point as numbers: logarithms of the time constants, then the energies; how each is believed and moved. */
const UNKNOWNS = [
  {
    believed: Math.log(TAU_1.typicalS),
    sd: TAU_1.sdLog,
    range: RANGE_1_S.map(Math.log),
    nudge: 0.02,
    most: 0.3,
  },
  {
    believed: Math.log(TAU_2.typicalS),
    sd: TAU_2.sdLog,
    range: RANGE_2_S.map(Math.log),
    nudge: 0.02,
    most: 0.3,
  },
  ...(['r0', 'r1', 'r2'] as const).map((r) => ({
    believed: BELIEVED[r],
    sd: BELIEVED_SD[r],
    range: [0, 80_000],
    nudge: 200,
    most: 5_000,
  })),
];
const MOST_ROUNDS = 25;
const AXIS_NUDGE = 5e-4;
const LEAD_NUDGE = 0.005;
/** Of a step: less is none. */
const LEAST_SHARE = 1 / 16;
/** A better misfit by less is none. */
const GAIN = 0.01;

const numbersOf = ({ tau1S, tau2S, activation: { r0, r1, r2 } }: Point): number[] => [
  Math.log(tau1S),
  Math.log(tau2S),
  r0,
  r1,
  r2,
];
const pointOf = ([log1, log2, r0, r1, r2]: readonly number[]): Point => ({
  tau1S: Math.exp(log1!),
  tau2S: Math.exp(log2!),
  activation: { r0: r0!, r1: r1!, r2: r2! },
});

/** A point, all that is linearised about it, and the parameters that need no linearising. */
interface State {
  readonly at: readonly number[];
  readonly bearings: Bearings;
  readonly p: Float64Array;
}

export function refined(equations: Equations, from: Try): { readonly best: Try; readonly pointSd: PointSd } {
  let state: State = {
    at: numbersOf(from),
    bearings: equations.turned(from.shape, from.bearings, from.solution.p),
    p: settled(from.shape, from.solution.p),
  };
  for (let round = 1; ; round++) {
    const { shape, full, misfit } = solved(equations, state);
    const next = round < MOST_ROUNDS ? better(equations, state, shape, full.p, misfit) : null;
    if (next !== null) {
      state = next;
      continue;
    }
    const { size } = shape.layout;
    const sds = UNKNOWNS.map((_, i) => Math.sqrt(full.covariance[(size + i) * (full.p.length + 1)]!));
    const solution = { p: state.p, covariance: corner(full.covariance, size) };
    return {
      best: { ...pointOf(state.at), shape, solution, misfit, bearings: state.bearings },
      pointSd: { tau1Log: sds[0]!, tau2Log: sds[1]!, activation: { r0: sds[2]!, r1: sds[3]!, r2: sds[4]! } },
    };
  }
}

/** One round about a state: all that is linear, and steps of all that is not; and the misfit at the state itself. */
function solved(
  equations: Equations,
  { at, bearings, p }: State,
): { readonly shape: Shape; readonly full: Solution; readonly misfit: number } {
  const shape = equations.shapeAt(pointOf(at), bearings);
  const { size } = shape.layout;
  const more = slopes(equations, shape, { at, bearings, p });
  const normal = equations.sum(shape, bearings, more);
  UNKNOWNS.forEach(({ believed, sd }, i) => {
    normal.believe([[size + i, 1]], believed - at[i]!, sd);
  });
  const here = new Float64Array(size + UNKNOWNS.length);
  here.set(p);
  return { shape, full: equations.solved(normal, shape, more), misfit: normal.misfit(here) };
}

/** The step that a solution points to, or as much of it as is better; null when none of it is. */
function better(
  equations: Equations,
  { at, bearings, p }: State,
  { layout, lead }: Shape,
  to: Float64Array,
  misfit: number,
): State | null {
  const steps = UNKNOWNS.map((_, i) => to[layout.size + i]!);
  const most = Math.max(1, ...steps.map((by, i) => Math.abs(by) / UNKNOWNS[i]!.most));
  const target = settled({ layout }, to);
  for (let share = 1 / most; share >= LEAST_SHARE / most; share /= 2) {
    const there = at.map((x, i) => {
      const [low, high] = UNKNOWNS[i]!.range as [number, number];
      return Math.min(high, Math.max(low, x + share * steps[i]!));
    });
    const point = pointOf(there);
    const turned: Bearings = {
      shift: bearings.shift + share * to[layout.shift]!,
      stretch: bearings.stretch + share * to[layout.stretch]!,
      leadS: Math.max(0, lead + share * to[layout.lead]!) * point.tau2S,
      socs: bearings.socs.map((soc, j) => (j === 0 ? soc : soc + share * to[layout.offsets + j - 1]!)),
    };
    const values = p.map((x, i) => x + share * (target[i]! - x));
    const shape = equations.shapeAt(point, turned);
    const found = equations.sum(shape, turned, NO_COLUMNS).misfit(values) + pointMisfit(there);
    if (found < misfit - GAIN) return { at: there, bearings: turned, p: values };
  }
  return null;
}

const pointMisfit = (at: readonly number[]): number =>
  UNKNOWNS.reduce((sum, { believed, sd }, i) => sum + ((at[i]! - believed) / sd) ** 2, 0);

/** Parameters without those that go into the bearings. */
function settled({ layout }: Pick<Shape, 'layout'>, from: Float64Array): Float64Array {
  const p = from.slice(0, layout.size);
  p.fill(0, layout.shift, layout.stretch + 1);
  p.fill(0, layout.lead);
  return p;
}

/**
 * Change of the volts, row by row, with each of the unknowns; and with the bearings, whose own columns are smoothed:
 * good enough to find the neighbourhood, not the least misfit in it.
 */
function slopes(equations: Equations, shape: Shape, { at, bearings, p }: State): MoreColumns {
  const { layout } = shape;
  const here = volts(equations.records, shape, p, bearings.socs);
  const change = (moved: Shape, socs: readonly number[], nudge: number): Float64Array[] => {
    const there = volts(equations.records, moved, p, socs);
    return there.map((each, j) => each.map((v, k) => (v - here[j]![k]!) / nudge));
  };
  const turned = (by: Partial<Bearings>): Shape => equations.shapeAt(shape, { ...bearings, ...by });
  const { socs, shift, stretch } = bearings;
  const columns: [at: number, values: Float64Array[]][] = [
    ...UNKNOWNS.map(({ nudge }, i): [number, Float64Array[]] => {
      const moved = pointOf(at.map((x, k) => (k === i ? x + nudge : x)));
      return [layout.size + i, change({ ...shape, ...moved }, socs, nudge)];
    }),
    [layout.shift, change(turned({ shift: shift + AXIS_NUDGE }), socs, AXIS_NUDGE)],
    [layout.stretch, change(turned({ stretch: stretch + AXIS_NUDGE }), socs, AXIS_NUDGE)],
    [layout.lead, change({ ...shape, lead: shape.lead + LEAD_NUDGE }, socs, LEAD_NUDGE)],
  ];
  for (let j = 1; j < socs.length; j++) {
    const moved = socs.with(j, socs[j]! + AXIS_NUDGE);
    columns.push([layout.offsets + j - 1, change(shape, moved, AXIS_NUDGE)]);
  }
  return {
    count: UNKNOWNS.length,
    fill: (row, j, k) => {
      for (const [i, values] of columns) row[i] = values[j]![k]!;
    },
  };
}

function volts(
  records: readonly SearchRecord[],
  shape: Shape,
  p: Float64Array,
  socs: readonly number[],
): Float64Array[] {
  const row = new Float64Array(shape.layout.size);
  return records.map(({ record, cellC }, j) => {
    const walker = new Walker(shape, socs[j]!);
    const out = new Float64Array(record.timeS.length);
    walk(record, walker, cellC, (k, currentA, rowC) => {
      out[k] = voltsAt(walker, row, p, currentA, rowC);
    });
    return out;
  });
}

/** The first rows and columns of a square matrix, row by row. */
function corner(matrix: Float64Array, size: number): Float64Array {
  const whole = Math.sqrt(matrix.length);
  const out = new Float64Array(size * size);
  for (let i = 0; i < size; i++) out.set(matrix.subarray(i * whole, i * whole + size), i * size);
  return out;
}
