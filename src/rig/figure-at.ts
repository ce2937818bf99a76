/** A figure of a rig by its dotted path, as limits, settings and drawn variants name it. */

/** @returns NaN where there is no number at that path */
export function figureAt(rig: unknown, path: string): number {
  let node = rig;
  for (const key of path.split('.')) {
    if (typeof node !== 'object' || node === null) return Number.NaN;
    node = (node as Readonly<Record<string, unknown>>)[key];
  }
  return typeof node === 'number' ? node : Number.NaN;
}
