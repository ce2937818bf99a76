/**
 * Every edge of the machine as lines that people read and review: for each state its tags, the flags it can be
 * stood in with, and what each event does there. What is not listed for a state is not permitted in it.
 */

import type { SessionMachine } from '../../../machines/session.js';
import type { SessionFlags } from '../../../machines/vocabulary.js';
import type { MachineSnapshot } from '../../supervisor/decide.js';
import { stateKeys } from './coverage.js';
import { EVENTS, type EventType, keyOf, type Move, Subject, stateOf } from './subject.js';

type FlagName = keyof SessionFlags;
const FLAGS: readonly FlagName[] = ['path', 'rafts', 'trip', 'latched'];

/** A state of the machine, and all the flags it is ever stood in with. */
interface Place {
  readonly state: string;
  readonly tags: readonly string[];
  readonly stood: readonly MachineSnapshot[];
}

interface Row {
  readonly from: SessionFlags;
  readonly outcome: string;
}

function grouped<T>(items: Iterable<T>, keyOfItem: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOfItem(item);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [item]);
    else group.push(item);
  }
  return groups;
}

/** Every state that is reached, in the order of the definition. */
function places(subject: Subject): Place[] {
  const known = new Map<string, MachineSnapshot>();
  const queue = subject.beginnings();
  for (const at of queue) {
    const key = keyOf(at);
    if (known.has(key)) continue;
    known.set(key, at);
    for (const event of EVENTS) {
      const { step, snapshot } = subject.move(at, key, event);
      if (step.taken) queue.push(snapshot);
    }
  }
  const states = grouped(known.values(), stateOf);
  return stateKeys(subject.machine).map((state) => {
    const stood = states.get(state) ?? [];
    return { state, tags: [...(stood[0]?.tags ?? [])].sort(), stood };
  });
}

const textOf = (flags: SessionFlags, name: FlagName): string => String(flags[name]);
const valuesOf = (all: readonly SessionFlags[], name: FlagName): string[] => [
  ...new Set(all.map((flags) => textOf(flags, name))),
];

/** Flags in words: as `rafts some|all, …` where every combination occurs, else one after the other. */
function flagsText(all: readonly SessionFlags[], names: readonly FlagName[]): string {
  const combined = names.reduce((product, name) => product * valuesOf(all, name).length, 1);
  const distinct = new Set(all.map((flags) => names.map((name) => textOf(flags, name)).join()));
  if (combined === distinct.size)
    return names.map((name) => `${name} ${valuesOf(all, name).join('|')}`).join(', ');
  return all.map((flags) => flagsText([flags], names)).join('; or ');
}

/** The flags that tell some of the combinations from all of them. */
function tellingFlags(some: readonly SessionFlags[], all: readonly SessionFlags[]): readonly FlagName[] {
  const names = FLAGS.filter((name) => valuesOf(some, name).length < valuesOf(all, name).length);
  const alike = all.filter((flags) => names.every((n) => valuesOf(some, n).includes(textOf(flags, n))));
  return alike.length === some.length ? names : FLAGS;
}

/** What became of the flags: only those that changed. */
function changed(before: SessionFlags, after: SessionFlags): string {
  const names = FLAGS.filter((name) => before[name] !== after[name]);
  return names.map((name) => `${name}=${textOf(after, name)}`).join(' ');
}

const column = (text: string, width: number): string => (text === '' ? '–' : text).padEnd(width);

/** Next state, flags that changed, timers cancelled and started, commands in their order. */
function outcomeOf({ step, started, cancelled }: Move): string {
  const timers = [...cancelled.map((t) => `-${t}`), ...started.map((t) => `+${t}`)].join(' ');
  return [
    column(step.reached.state, 29),
    column(changed(step.before.flags, step.reached.flags), 36),
    column(timers, 43),
    step.commands.join(', ') || '–',
  ].join(' ');
}

/** Lines of one event in one state; what is the same whatever the flags is one line. */
function linesOf(subject: Subject, stood: readonly MachineSnapshot[], event: EventType): string[] {
  const rows = stood.flatMap((at): Row[] => {
    const move = subject.move(at, keyOf(at), event);
    return move.step.taken ? [{ from: at.context, outcome: outcomeOf(move) }] : [];
  });
  const all = stood.map((at) => at.context);
  return [...grouped(rows, (row) => row.outcome)].map(([outcome, same]) => {
    const line = `  ${column(event, 28)} ${outcome}`;
    if (same.length === all.length) return line;
    const from = same.map((row) => row.from);
    return `${line}  [only with ${flagsText(from, tellingFlags(from, all))}]`;
  });
}

/** @returns the whole table: the beginnings, then a paragraph for each state with a line for each edge */
export function edgeTable(machine?: SessionMachine): string[] {
  const subject = new Subject(machine);
  const begun = subject
    .beginnings()
    .map((at) => `begins in ${stateOf(at)} with ${flagsText([at.context], FLAGS)}`);
  const paragraphs = places(subject).flatMap(({ state, tags, stood }) => {
    const flags = stood.map((at) => at.context);
    return [
      '',
      `${state}  (${tags.join(', ') || 'no tags'})`,
      stood.length === 0 ? '  never reached' : `  with ${flagsText(flags, FLAGS)}`,
      ...EVENTS.flatMap((event) => linesOf(subject, stood, event)),
    ];
  });
  return [...begun, ...paragraphs];
}
