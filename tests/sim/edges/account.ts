/** The account of a campaign as text: edges by state, how many were driven or listed, and what is neither. */
import { keyOf, stateOf } from '../../../src/audit/explore/subject.js';
import { table } from '../../../src/cli/print.js';
import type { MachineEdge } from '../../model/test-model.js';
import { type Campaign, idOf } from './campaign.js';
import { REASONS, reasonOf } from './reasons.js';

export function account(edges: readonly MachineEdge[], campaign: Campaign): string {
  const isDriven = (e: MachineEdge): boolean => campaign.driven.has(idOf(e));
  const isListed = (e: MachineEdge): boolean => !isDriven(e) && reasonOf(e) !== null;
  const states = [...new Set(edges.map((e) => stateOf(e.from)))];
  const row = (name: string, those: readonly MachineEdge[]): string[] => {
    const driven = those.filter(isDriven).length;
    const listed = those.filter(isListed).length;
    const left = those.length - driven - listed;
    return [name, ...[those.length, driven, listed, left].map(String)];
  };
  const rows = states.map((s) =>
    row(
      s,
      edges.filter((e) => stateOf(e.from) === s),
    ),
  );
  rows.push(row('all', edges));
  const [, , driven = 0, listed = 0] = (rows.at(-1) ?? []).map(Number);
  const share = (count: number): string => `${((100 * count) / edges.length).toFixed(1)} %`;
  const lines = [
    table(['state', 'edges', 'driven', 'listed', 'neither'], rows),
    `${share(driven)} driven, ${share(driven + listed)} driven or listed; ${campaign.sessions} sessions`,
  ];
  for (const { why, matches } of REASONS) {
    const count = edges.filter((e) => matches(e) && isListed(e)).length;
    if (count > 0) lines.push(`listed, ${count}: ${why}`);
  }
  for (const e of edges) if (!isDriven(e) && !isListed(e)) lines.push(`neither: ${keyOf(e.from)} ${e.event}`);
  for (const { what, line } of campaign.troubles) lines.push(`TROUBLE: ${what}\n  ${line}`);
  return lines.join('\n');
}
