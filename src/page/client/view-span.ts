/** Which stretch of the traces is looked at: the newest part, following, or a stretch that stands still. */

/** Offered as buttons, s. */
export const SPANS_S = [60, 300, 900, 3600] as const;
/** Nothing closer than a few points tells anything. */
const LEAST_S = 2;

export interface View {
  readonly follow: boolean;
  readonly spanS: number;
  /** End of what is shown; of no use while following. */
  readonly endS: number;
}

export const following = (spanS: number): View => ({ follow: true, spanS, endS: 0 });

export function shownRange(view: View, newestS: number): readonly [from: number, to: number] {
  const to = view.follow ? newestS : view.endS;
  return [to - view.spanS, to];
}

/** A stretch chosen by hand stands still. */
export const between = (fromS: number, toS: number): View => ({
  follow: false,
  spanS: Math.max(LEAST_S, Math.abs(toS - fromS)),
  endS: Math.max(fromS, toS),
});

/** Closer (factor < 1) or wider: following keeps its end, else the middle stays. */
export function zoomed(view: View, factor: number, mostS: number): View {
  const spanS = Math.min(Math.max(LEAST_S, view.spanS * factor), Math.max(mostS, LEAST_S));
  return view.follow ? { ...view, spanS } : { ...view, spanS, endS: view.endS + (spanS - view.spanS) / 2 };
}

/** A share of the span earlier (negative) or later; past the newest point it follows again. */
export function moved(view: View, share: number, oldestS: number, newestS: number): View {
  const endS = (view.follow ? newestS : view.endS) + share * view.spanS;
  if (endS >= newestS) return following(view.spanS);
  return { follow: false, spanS: view.spanS, endS: Math.max(endS, Math.min(oldestS + view.spanS, newestS)) };
}

/** Index of the point nearest to `x` in a row that grows; -1 where it is empty. */
export function nearest(row: readonly number[], x: number): number {
  if (row.length === 0) return -1;
  let low = 0;
  let high = row.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if ((row[middle] as number) < x) low = middle;
    else high = middle;
  }
  return x - (row[low] as number) <= (row[high] as number) - x ? low : high;
}
