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

/**
 * The shard, from 1, that the case at this position of a stretch belongs to. Cases are dealt like cards, so that no
 * shard has more than one case above another and each is a fair sample of the whole: blocks would give one of them
 * all that lies together where neighbours are alike. Each round begins one shard further on, so that a pattern in the
 * numbers that comes again every `of` cases does not leave one shard with all the long ones.
 */
export const shardAt = (position: number, of: number): number =>
  1 + ((position + Math.floor(position / of)) % of);

/** Numbers of the cases of a shard, ascending. */
export function numbersOf({ from, cases }: Stretch, { index, of }: Shard): number[] {
  const numbers: number[] = [];
  for (let round = 0; round * of < cases; round++) {
    const back = (index - 1 - round) % of;
    const position = round * of + (back < 0 ? back + of : back);
    if (position < cases) numbers.push(from + position);
  }
  return numbers;
}
