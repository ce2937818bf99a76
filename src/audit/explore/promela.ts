/**
 * Writes a machine as Promela, the language of the model checker Spin: one guarded step for each edge of its table of
 * states and events, with commands and timers by name. The claims are in promela-rules.ts. The checker walks the
 * states by itself; of our exploration it is given the table, and the bounds that I10 states.
 */
import { isEnd } from '../../../machines/invariants.js';
import type { SessionMachine } from '../../../machines/session.js';
import { FINDING_EVENTS, PROOF_EVENTS, type TimerId } from '../../../machines/vocabulary.js';
import type { Way } from './ends.js';
import { PROMELA_RULES } from './promela-rules.js';
import { EVENTS, type EventType, keyOf, type Move, Subject } from './subject.js';

const word = (name: string): string => name.replaceAll(/[-.]/g, '_');

interface State {
  readonly number: number;
  readonly moves: ReadonlyMap<EventType, Move>;
  readonly sample: Move;
}

/** Every state of the machine alone, with what each event does in it. */
function table(machine: SessionMachine): { states: Map<string, State>; beginnings: string[] } {
  const subject = new Subject(machine);
  const states = new Map<string, State>();
  const begun = subject.beginnings();
  const queue = begun.map((snapshot) => ({ snapshot, key: keyOf(snapshot) }));
  for (const { snapshot, key } of queue) {
    if (states.has(key)) continue;
    const moves = new Map(EVENTS.map((event) => [event, subject.move(snapshot, key, event)] as const));
    states.set(key, { number: states.size, moves, sample: moves.get('start')! });
    for (const move of moves.values()) if (move.step.taken) queue.push(move);
  }
  return { states, beginnings: begun.map(keyOf) };
}

const ORDINARY: readonly TimerId[] = ['pole-settling', 'tripped-ramping-down', 'making-safe'];
const HEARD: Partial<Record<EventType, string>> = {
  secured: 'secured = 1;',
  presence: 'presence = 1;',
  'isolation-dead': 'isolation_dead = 1;',
  'isolation-joined': 'isolation_joined = 1;',
  'voltage-matched': 'matched = 1;',
  'pre-charged': 'matched = 1;',
  'closed-p': 'closed_p = 1;',
  'closed-n': 'closed_n = 1;',
  'poles-follow': 'poles_follow = 1;',
  'proven-dead': 'proven_dead = 1; live = 0;',
  start: 'forget(); started = 1;',
  acknowledge: 'forget();',
  'trip-0': 'tripped = 1;',
  'trip-1': 'tripped = 1;',
};
const timerOf = (event: EventType): TimerId | null =>
  event.startsWith('elapsed.') ? (event.slice('elapsed.'.length) as TimerId) : null;
const isOverdue = (event: EventType): boolean => {
  const timer = timerOf(event);
  return timer !== null && !ORDINARY.includes(timer);
};
const bit = (yes: boolean): number => Number(yes);

/** The body of one step, without its guard. */
function body(move: Move, to: number): string {
  const { step, started, cancelled } = move;
  const { event, before, reached, commands } = step;
  const timer = timerOf(event);
  const wasEnd = bit(isEnd(before.state));
  const wasLatched = bit(before.flags.latched);
  const back = bit(reached.state === 'parked' || reached.state === 'released');
  const parts = [
    'begin_step();',
    HEARD[event] ?? (isOverdue(event) ? 'tripped = 1;' : ''),
    timer === null ? '' : `t_${word(timer)} = 0;`,
    ...cancelled.map((t) => `t_${word(t)} = 0;`),
    ...commands.map((c) => `C_${word(c)}(${bit(before.flags.path === 'match')});`),
    ...started.map((t) => `t_${word(t)} = 1;`),
    event === 'trip-0' ? `trip0_done(${wasEnd}, 1);` : '',
    event === 'trip-1' ? `trip1_done(${wasEnd});` : '',
    isOverdue(event) ? `overdue_done(${wasEnd});` : '',
    event === 'start' ? `start_done(${wasLatched});` : '',
    event === 'acknowledge'
      ? 'acknowledge_done();'
      : `any_done(${wasLatched}, ${bit(reached.flags.latched)}, ${back});`,
    `s = ${to};`,
  ];
  return parts.filter((p) => p !== '').join(' ');
}

const ANSWERS: readonly EventType[] = [...PROOF_EVENTS, ...FINDING_EVENTS];
const WAY_NUMBER: Record<Way, number> = { stop: 1, 'emergency stop': 2, silence: 3 };
const WAY_EVENT: Record<Way, EventType> = { stop: 'stop', 'emergency stop': 'trip-0', silence: 'trip-0' };

/** When an event may come: on the way to an end only what the world answers, and timers that run; none after it. */
function mayCome(event: EventType, atEnd: boolean): string {
  if (atEnd) return 'way == 0';
  const timer = timerOf(event);
  if (timer !== null) return `(way == 0 || t_${word(timer)})`;
  return ANSWERS.includes(event) ? 'way < 3' : 'way == 0';
}

function optionsOf(state: State, states: ReadonlyMap<string, State>): string[] {
  const { number, moves, sample } = state;
  const here = `s == ${number}`;
  const { before } = sample.step;
  const lines = [`/* ${number}: ${before.state} ${JSON.stringify(before.flags)} */`];
  const bodyOf = (move: Move): string => body(move, states.get(move.key)!.number);
  for (const [event, move] of moves) {
    if (move.step.taken) {
      const counted = move.key === sample.key && before.state === move.step.reached.state ? '' : ' count();';
      lines.push(
        `:: d_step { ${here} && ${mayCome(event, isEnd(before.state))} -> /* ${event} */ ${bodyOf(move)}${counted} }`,
      );
    } else if (event === 'trip-0' || event === 'trip-1') {
      const done = event === 'trip-0' ? 'trip0_done' : 'trip1_done';
      const args = event === 'trip-0' ? `${bit(isEnd(before.state))}, 0` : `${bit(isEnd(before.state))}`;
      lines.push(
        `:: d_step { ${here} && way == 0 -> /* ${event} refused */ begin_step(); ${done}(${args}); }`,
      );
    }
  }
  if (isEnd(before.state)) return lines;
  for (const way of Object.keys(WAY_NUMBER) as Way[]) {
    const move = moves.get(WAY_EVENT[way])!;
    const set = `way = ${WAY_NUMBER[way]};`;
    const goes = move.step.taken ? `${set} ${bodyOf(move)} count();` : set;
    lines.push(`:: d_step { ${here} && way == 0 -> /* ${way} */ ${goes} }`);
  }
  const running = [...moves].flatMap(([event, move]) => {
    const timer = timerOf(event);
    return timer !== null && move.step.taken ? [`t_${word(timer)}`] : [];
  });
  const stuck = running.length === 0 ? '' : ` && !(${running.join(' || ')})`;
  lines.push(`:: d_step { ${here} && way > 0 && !bad10${stuck} -> /* waits for ever */ bad10 = 1; }`);
  return lines;
}

export function promelaOf(machine: SessionMachine, bound: Readonly<Record<Way, number>>): string {
  const { states, beginnings } = table(machine);
  const numbers = beginnings.map((key) => states.get(key)!.number);
  return `/* Made from the session machine; not to be edited. */
${PROMELA_RULES}
short s;
/* 1 stop, 2 emergency stop, 3 silence was ordered; steps since. */
byte way, steps;
inline count() {
  if
  :: way > 0 -> steps++; bad10 = bad10 || (way == 1 && steps > ${bound.stop}) || (way == 2 && steps > ${bound['emergency stop']}) || (way == 3 && steps > ${bound.silence});
     if :: steps > 30 -> steps = 30 :: else fi
  :: else
  fi
}

active proctype session() {
  if
${numbers.map((n) => `  :: s = ${n}`).join('\n')}
  fi;
  do
${[...states.values()]
  .flatMap((state) => optionsOf(state, states))
  .map((l) => `  ${l}`)
  .join('\n')}
  od
}
`;
}
