/** Limits of a step as figures: those that point into the rig are looked up there, with the source that stands there. */
import type { LoadedRig } from '../rig/load.js';
import type { Limit } from './procedure.js';

export interface Bound {
  readonly value: number;
  readonly source: string;
}

/** The number at a dotted path; NaN where there is none. */
function figureAt(rig: object, path: string): number {
  let node: unknown = rig;
  for (const key of path.split('.')) {
    if (typeof node !== 'object' || node === null) return Number.NaN;
    node = (node as Readonly<Record<string, unknown>>)[key];
  }
  return typeof node === 'number' ? node : Number.NaN;
}

/** @returns null where the rig has no such figure */
export function boundOf(limit: Limit, { rig, sources }: Pick<LoadedRig, 'rig' | 'sources'>): Bound | null {
  if ('value' in limit) return limit;
  const figure = figureAt(rig, limit.rig);
  if (Number.isNaN(figure)) return null;
  const { times, plus, source } = limit;
  const own = `${limit.rig} of the rig${times === 1 ? '' : ` × ${times}`}${plus === 0 ? '' : ` + ${plus}`}`;
  const from = sources.get(limit.rig) ?? 'the rig';
  return {
    value: figure * times + plus,
    source: `${own}: ${from}${source === undefined ? '' : `; ${source}`}`,
  };
}
