/**
 * A recording as means over even stretches of time, in bounded memory: when there are too many, two neighbours become
 * one and the stretch doubles. Means lose nothing here: what is fitted is linear in what was recorded.
 */

/** A second is short against every time constant that is fitted. */
const STRETCH_S = 1;
const MOST = 4096;

export interface Bin {
  /** Mean time of its rows, s. */
  readonly tS: number;
  readonly values: readonly number[];
}

interface Sum {
  readonly at: number;
  count: number;
  tS: number;
  readonly values: number[];
}

export class Bins {
  #stretchS = STRETCH_S;
  #sums: Sum[] = [];

  /** Rows with anything that cannot be read are not for here. */
  add(tS: number, values: readonly number[]): void {
    const at = Math.floor(tS / this.#stretchS);
    const last = this.#sums.at(-1);
    if (last?.at === at) {
      last.count++;
      last.tS += tS;
      for (let k = 0; k < values.length; k++) last.values[k]! += values[k]!;
      return;
    }
    this.#sums.push({ at, count: 1, tS, values: [...values] });
    if (this.#sums.length > MOST) this.#halve();
  }

  get list(): Bin[] {
    return this.#sums.map(({ count, tS, values }) => ({
      tS: tS / count,
      values: values.map((v) => v / count),
    }));
  }

  #halve(): void {
    this.#stretchS *= 2;
    const merged: Sum[] = [];
    for (const sum of this.#sums) {
      const at = Math.floor(sum.at / 2);
      const last = merged.at(-1);
      if (last?.at !== at) {
        merged.push({ ...sum, at });
        continue;
      }
      last.count += sum.count;
      last.tS += sum.tS;
      for (let k = 0; k < sum.values.length; k++) last.values[k]! += sum.values[k]!;
    }
    this.#sums = merged;
  }
}
