/** Limits of a step as figures: those that point into the rig are looked up there, with the source that stands there. */
import { figureAt } from '../rig/figure-at.js';
import type { LoadedRig } from '../rig/load.js';
import type { Limit, RigFigure } from './procedure.js';

export interface Bound {
  readonly value: number;
  readonly source: string;
}

/** The paths of the rig that a limit, or the size of a fault, is made of. */
export const pathsOf = (of: Limit | RigFigure): readonly string[] =>
  'rig' in of ? [of.rig, ...(of.by === undefined ? [] : [of.by])] : [];

/** @returns NaN where the rig has no such figure */
export function ofRig({ rig: path, by, times, plus }: RigFigure, { rig }: Pick<LoadedRig, 'rig'>): number {
  return figureAt(rig, path) * (by === undefined ? 1 : figureAt(rig, by)) * times + plus;
}

/** @returns null where the rig has no such figure */
export function boundOf(limit: Limit, loaded: Pick<LoadedRig, 'rig' | 'sources'>): Bound | null {
  if ('value' in limit) return limit;
  const value = ofRig(limit, loaded);
  if (!Number.isFinite(value)) return null;
  const { times, plus, source } = limit;
  const own = `${pathsOf(limit).join(' × ')} of the rig${times === 1 ? '' : ` × ${times}`}${plus === 0 ? '' : ` ${plus < 0 ? '−' : '+'} ${Math.abs(plus)}`}`;
  const from = pathsOf(limit).map((path) => loaded.sources.get(path) ?? 'the rig');
  return {
    value,
    source: [`${own}: ${[...new Set(from)].join(', ')}`, ...(source === undefined ? [] : [source])].join(
      '; ',
    ),
  };
}

export const hasFigure = (path: string, { rig }: Pick<LoadedRig, 'rig'>): boolean =>
  Number.isFinite(figureAt(rig, path));
