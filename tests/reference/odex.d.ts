/**
 * What the tests use of `odex`, which ships its TypeScript raw and unfit for strict settings. `paths` in
 * tests/tsconfig.json puts this in its place.
 */
export class Solver {
  constructor(dimension: number);
  relativeTolerance: number;
  absoluteTolerance: number;
  maxSteps: number;
  /** Integrates y' = derivative(x, y) from x to xEnd. */
  solve(
    derivative: (x: number, y: number[]) => number[],
    x: number,
    y: readonly number[],
    xEnd: number,
  ): { readonly y: number[]; readonly outcome: number };
}
