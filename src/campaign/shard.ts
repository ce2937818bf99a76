/** Cuts a campaign of numbered cases into shards that take equally long. */

export interface Shard {
  /** From 1. */
  readonly index: number;
  readonly of: number;
}

/** A stretch of numbered cases. */
export interface Stretch {
  /** Number of the first. */
  readonly from: number;
  readonly cases: number;
}

/** The whole campaign is its only shard. */
export const WHOLE: Shard = { index: 1, of: 1 };
export const MOST_SHARDS = 100_000;

/** 2^32 over the golden ratio. */
const GOLDEN = 0x9e3779b9;

/**
 * Cases are dealt like cards, a round of `of` at a time, so that no shard has more than one case above another and
 * each is a fair sample of the whole: blocks would give one of them all that lies together where neighbours are alike.
 * Dealt always in the same order, a pattern in the numbers (nested loops make one) whose period has a factor in common
 * with `of` would leave some shards with all the long cases. So each round begins elsewhere, by multiples of the golden
 * ratio: they spread evenly over all shards, also when only every second, third or twelfth round is looked at.
 */
const beginOf = (round: number, of: number): number =>
  Math.floor(((Math.imul(round, GOLDEN) >>> 0) / 2 ** 32) * of);

/** The shard, from 1, of the case at this position of a stretch. */
export function shardAt(position: number, of: number): number {
  const round = Math.floor(position / of);
  return 1 + (((position % of) + beginOf(round, of)) % of);
}

/** Numbers of the cases of a shard, ascending. */
export function numbersOf({ from, cases }: Stretch, { index, of }: Shard): number[] {
  const numbers: number[] = [];
  for (let round = 0; round * of < cases; round++) {
    const position = round * of + ((index - 1 - beginOf(round, of) + of) % of);
    if (position < cases) numbers.push(from + position);
  }
  return numbers;
}
