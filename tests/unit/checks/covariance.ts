/** The covariance of a fit by the textbook, for tests: nothing shared with the solver of the checks. */

/** Inverse of the normal matrix of these columns, by Gauss and Jordan. */
export function covarianceOf(columns: readonly (readonly number[])[]): number[][] {
  const p = columns.length;
  const rows = columns.map((a, i) => [
    ...columns.map((b) => a.reduce((sum, x, k) => sum + x * b[k]!, 0)),
    ...columns.map((_, j) => (i === j ? 1 : 0)),
  ]);
  for (let k = 0; k < p; k++) {
    const pivot = rows[k]![k]!;
    rows[k] = rows[k]!.map((x) => x / pivot);
    for (let i = 0; i < p; i++) {
      const f = rows[i]![k]!;
      if (i !== k) rows[i] = rows[i]!.map((x, j) => x - f * rows[k]![j]!);
    }
  }
  return rows.map((row) => row.slice(p));
}
