/** Draws the session machine as a Mermaid state diagram, from the very object that runs. */
import { sessionMachine } from '../../machines/session.js';

interface Node {
  readonly key: string;
  readonly id: string;
  readonly path: readonly string[];
  readonly states: Readonly<Record<string, Node>>;
  readonly initial: { readonly target?: readonly Node[] | undefined } | undefined;
  readonly on: Readonly<
    Record<string, readonly { readonly target?: readonly Node[] | undefined; readonly guard?: unknown }[]>
  >;
}

const nameOf = (node: Node): string => node.path.join('__').replaceAll('-', '_');

export function mermaidChart(): string {
  const lines = ['stateDiagram-v2'];
  const edges: string[] = [];
  const draw = (node: Node, indent: string): void => {
    const children = Object.values(node.states);
    if (node.path.length > 0) lines.push(`${indent}state "${node.key}" as ${nameOf(node)}`);
    const inner = node.path.length > 0 && children.length > 0;
    if (inner) lines.push(`${indent}state ${nameOf(node)} {`);
    const deeper = node.path.length > 0 ? `${indent}  ` : indent;
    const first = node.initial?.target?.[0];
    if (first !== undefined) lines.push(`${deeper}[*] --> ${nameOf(first)}`);
    for (const child of children) draw(child, deeper);
    if (inner) lines.push(`${indent}}`);
    edges.push(...edgesOf(node));
  };
  draw(sessionMachine.root as unknown as Node, '  ');
  return [...lines, ...edges].join('\n');
}

/** Events that lead to the same place share an arrow. */
function edgesOf(node: Node): string[] {
  const byTarget = new Map<string, string[]>();
  for (const [event, transitions] of Object.entries(node.on)) {
    for (const { target, guard } of transitions) {
      const to = nameOf(target?.[0] ?? node);
      const label = guard === undefined ? event : `${event} [${String(guard)}]`;
      byTarget.set(to, [...(byTarget.get(to) ?? []), label]);
    }
  }
  return [...byTarget].map(([to, events]) => `  ${nameOf(node)} --> ${to}: ${events.join(', ')}`);
}
