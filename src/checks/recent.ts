/** A bounded window of the last moments: the newest sample added, the old ones let go. */

/** Written as one walk: adding, filtering and cutting one after the other made three lists of it every step. */
export function recentWith<T extends { readonly tMs: number }>(
  before: readonly T[],
  newest: T,
  keepMs: number,
  most: number,
): readonly T[] {
  let kept = 0;
  for (const each of before) if (newest.tMs - each.tMs <= keepMs) kept++;
  // Room for the newest, which is always kept.
  let surplus = kept + 1 - most;
  const recent: T[] = [];
  for (const each of before) {
    if (!(newest.tMs - each.tMs <= keepMs)) continue;
    if (surplus > 0) surplus--;
    else recent.push(each);
  }
  recent.push(newest);
  return recent;
}
