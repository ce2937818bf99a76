/** The solver of linear programmes, loaded when it is needed; what it cannot do is said in a line. */
import type loadRaw from 'highs';
import type { Problem } from './linear-problem.js';

export interface Solved {
  /** null where there is no solution within rows and bounds. */
  readonly values: Float64Array | null;
  /** Of the rows; only with values. */
  readonly multipliers: Float64Array;
}

export type Solve = (problem: Problem) => Solved;

let loading: Promise<Solve> | null = null;

/** One for all: it keeps nothing from one problem to the next. */
export function solver(): Promise<Solve> {
  loading ??= load();
  return loading;
}

/** An error of the module would bring its whole text along. */
const MOST_CHARS = 200;
const shortly = (error: unknown): Error =>
  new Error(`the solver of linear programmes failed: ${String(error).slice(0, MOST_CHARS)}`);

async function load(): Promise<Solve> {
  // What its types call the module is, under this kind of import, the function itself.
  const { default: make } = await import('highs');
  let engine: Awaited<ReturnType<typeof loadRaw.default>>;
  try {
    engine = await (make as unknown as typeof loadRaw.default)();
  } catch (error) {
    throw shortly(error);
  }
  return (problem) => {
    let solution: ReturnType<typeof engine.solve>;
    try {
      solution = engine.solve(problem.text());
    } catch (error) {
      throw shortly(error);
    }
    if (solution.Status === 'Infeasible') return { values: null, multipliers: new Float64Array() };
    if (solution.Status !== 'Optimal')
      throw new Error(`the solver of linear programmes ended with ${solution.Status}`);
    const { Columns: columns, Rows: rows } = solution;
    const dual = new Map(rows.flatMap((row) => ('Dual' in row ? [[row.Name, row.Dual] as const] : [])));
    return {
      values: Float64Array.from(problem.columns, ({ name }) => columns[name]?.Primal ?? 0),
      multipliers: Float64Array.from(problem.rows, ({ name }) => dual.get(name) ?? 0),
    };
  };
}
