/**
 * A linear programme as data, its text for a solver, and the bound that any multipliers prove on it: by weak duality,
 * for every y of the right sign, the least of c·x over the bounds of x, with y paid for each row, is no more than the
 * optimum. So how good a plan is need not be taken from whoever found it.
 */

export interface Column {
  readonly name: string;
  readonly cost: number;
  readonly lower: number;
  /** Infinity for none. */
  readonly upper: number;
}

export interface ProblemRow {
  readonly name: string;
  readonly terms: readonly (readonly [column: number, factor: number])[];
  readonly sense: '>=' | '<=' | '=';
  readonly value: number;
}

/** To be made least. */
export class Problem {
  readonly columns: Column[] = [];
  readonly rows: ProblemRow[] = [];

  column(name: string, cost: number, lower = 0, upper = Number.POSITIVE_INFINITY): number {
    return this.columns.push({ name, cost, lower, upper }) - 1;
  }

  row(name: string, terms: ProblemRow['terms'], sense: ProblemRow['sense'], value: number): void {
    this.rows.push({ name, terms, sense, value });
  }

  /** In the LP text format. */
  text(): string {
    const term = (factor: number, column: number): string =>
      `${factor < 0 ? '-' : '+'} ${Math.abs(factor)} ${this.columns[column]!.name}`;
    const costs = this.columns.flatMap(({ cost }, i) => (cost === 0 ? [] : [term(cost, i)]));
    const rows = this.rows.map(
      ({ name, terms, sense, value }) =>
        ` ${name}: ${terms.map(([column, factor]) => term(factor, column)).join(' ')} ${sense} ${value}`,
    );
    const bounds = this.columns.map(({ name, lower, upper }) =>
      upper === Number.POSITIVE_INFINITY ? ` ${name} >= ${lower}` : ` ${lower} <= ${name} <= ${upper}`,
    );
    const cost = costs.length > 0 ? costs.join('\n  ') : `0 ${this.columns[0]!.name}`;
    return `Minimize\n obj: ${cost}\nSubject To\n${rows.join('\n')}\nBounds\n${bounds.join('\n')}\nEnd\n`;
  }

  costOf(values: ArrayLike<number>): number {
    return this.columns.reduce((sum, { cost }, i) => sum + cost * values[i]!, 0);
  }

  /** How far these values are outside the rows and bounds, at most. */
  excessOf(values: ArrayLike<number>): number {
    let most = 0;
    for (const [i, { lower, upper }] of this.columns.entries())
      most = Math.max(most, lower - values[i]!, values[i]! - upper);
    for (const { terms, sense, value } of this.rows) {
      const over = terms.reduce((sum, [column, factor]) => sum + factor * values[column]!, -value);
      most = Math.max(most, sense === '<=' ? over : sense === '>=' ? -over : Math.abs(over));
    }
    return most;
  }

  /** What these multipliers of the rows prove the optimum to be at least. */
  boundBy(multipliers: ArrayLike<number>): number {
    const reduced = this.columns.map(({ cost }) => cost);
    let bound = 0;
    for (const [i, { terms, sense, value }] of this.rows.entries()) {
      const given = multipliers[i]!;
      const y = sense === '>=' ? Math.max(0, given) : sense === '<=' ? Math.min(0, given) : given;
      bound += y * value;
      for (const [column, factor] of terms) reduced[column]! -= y * factor;
    }
    for (const [i, { lower, upper }] of this.columns.entries()) {
      const each = reduced[i]!;
      // Rounding of the multipliers must not make an open column cost infinity.
      if (Math.abs(each) < 1e-11) continue;
      bound += each * (each > 0 ? lower : upper);
    }
    return bound;
  }
}
