/** What to paste into a rig file, or a variant of it, where a fitted interval does not hold the value there. */
import { isoOf } from '../host/clock.js';
import type { Rig } from '../rig/schema.js';
import type { Fitted, RigFit } from './fit-rig.js';

const DAY_CHARS = 10;
const day = (wallMs: number): string => isoOf(wallMs).slice(0, DAY_CHARS);
const DIGITS = 4;
const round = (x: number): number => Number(x.toPrecision(DIGITS));

/** Who vouches for a fitted figure. */
export function sourceText({ sessions, rehearsals, firstWallMs, lastWallMs }: RigFit): string {
  const days = `${day(firstWallMs)}..${day(lastWallMs)}`;
  const made = rehearsals > 0 ? ', rehearsals' : '';
  return `fitted from ${sessions} ${sessions === 1 ? 'journal' : 'journals'}, ${days}${made}`;
}

type Tree = Map<string, Tree | string>;

/** @returns YAML, or null when every value of the rig lies within its interval */
export function snippetOf(fit: RigFit, rig: Rig): string | null {
  const apart = fit.fitted.filter(({ verdict, key }) => verdict === 'apart' && key !== null);
  if (apart.length === 0) return null;
  const tree: Tree = new Map();
  const source = sourceText(fit);
  for (const one of apart) put(tree, one.key!.split('.'), lineOf(one, source));
  const table = scaledTable(apart, rig);
  if (table !== null) put(tree, ['battery', 'raft', 'cell', 'overSoc'], table);
  return written(tree, '').join('\n');
}

/** A line that is pasted alone keeps its source. */
const lineOf = ({ fitted, low, high, sessions }: Fitted, source: string): string =>
  ` ${round(fitted!)} # ${source}, of which ${sessions} told it; 95 %: ${round(low!)} to ${round(high!)}`;

/** Where the cells have a table, it is what is charged by: it goes with the same factor. */
function scaledTable(apart: readonly Fitted[], { battery }: Rig): string | null {
  const { overSoc } = battery.raft.cell;
  const one = apart.find(({ key }) => key === 'battery.raft.cell.r0Ohm');
  if (overSoc === undefined || one === undefined) return null;
  const factor = one.fitted! / one.now!;
  return overSoc
    .map((p) => {
      const [r0, r1, r2] = [p.r0Ohm, p.r1Ohm, p.r2Ohm].map((ohm) => round(ohm * factor));
      return `\n        - { soc: ${p.soc}, r0Ohm: ${r0}, r1Ohm: ${r1}, r2Ohm: ${r2} }`;
    })
    .join('');
}

function put(tree: Tree, [first = '', ...rest]: readonly string[], line: string): void {
  if (rest.length === 0) {
    tree.set(first, line);
    return;
  }
  const below = tree.get(first);
  const branch: Tree = below instanceof Map ? below : new Map();
  tree.set(first, branch);
  put(branch, rest, line);
}

function written(tree: Tree, indent: string): string[] {
  return [...tree].flatMap(([key, below]) =>
    below instanceof Map
      ? [`${indent}${key}:`, ...written(below, `${indent}  `)]
      : [`${indent}${key}:${below}`],
  );
}
