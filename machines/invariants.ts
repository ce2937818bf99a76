/**
 * The invariants as the machine alone can keep or break them: pure functions over one step (state before, event,
 * state after, commands) and a finite memory of what was proven and ordered before it.
 *
 * The memory follows events and commands only, never the names of the phases between them: a machine whose
 * phases are all there but lead to one another in the wrong order is found out. `remember` carries the memory on,
 * `brokenOnMachine` judges. I10 speaks of what is to come, not of one step; it is judged on the whole graph
 * (src/audit/explore/ends.ts) by `isEnd` below.
 */
import type { InvariantId } from './invariant-list.js';
import type { Command, SessionEvent, SessionFlags } from './vocabulary.js';

/** Where the machine stands. */
export interface Standing {
  /** Path of the state, e.g. `closing.pole-p`. */
  readonly state: string;
  readonly flags: SessionFlags;
}

export interface MachineStep {
  readonly before: Standing;
  readonly event: SessionEvent['type'];
  /** False: the event is not permitted here and did nothing. */
  readonly taken: boolean;
  readonly reached: Standing;
  readonly commands: readonly Command[];
}

/** What was proven and ordered since the machine last left `parked`. */
export interface Memory {
  readonly started: boolean;
  readonly secured: boolean;
  readonly presence: boolean;
  readonly isolationDead: boolean;
  readonly isolationJoined: boolean;
  /** Output at the train's voltage, by matching or by pre-charging. */
  readonly matched: boolean;
  readonly closedP: boolean;
  readonly closedN: boolean;
  readonly polesFollow: boolean;
  /** Since the last order that can make anything live. */
  readonly provenDead: boolean;
  readonly locked: boolean;
  /** Something was ordered closed that can put the train's or the converter's voltage on the plug. */
  readonly live: boolean;
  readonly authority: boolean;
  readonly rampingDown: boolean;
  readonly makingSafe: boolean;
  readonly tripped: boolean;
}

export const NOTHING_YET: Memory = {
  started: false,
  secured: false,
  presence: false,
  isolationDead: false,
  isolationJoined: false,
  matched: false,
  closedP: false,
  closedN: false,
  polesFollow: false,
  provenDead: false,
  locked: false,
  live: false,
  authority: false,
  rampingDown: false,
  makingSafe: false,
  tripped: false,
};

const CONTACTORS: readonly Command[] = ['close-train', 'close-pre', 'close-p', 'close-n'];
const AUTHORITY: readonly Command[] = ['authorise-hold-point', 'authorise-full'];
/** Whatever can make something live, or more live. */
const ENERGISING: readonly Command[] = [
  ...CONTACTORS,
  ...AUTHORITY,
  'enable-converter',
  'match-voltage',
  'probe-poles',
];
/** Timers whose end is a step of the sequence; every other one is a deadline, and its end a trip-0. */
const ORDINARY = ['elapsed.pole-settling', 'elapsed.tripped-ramping-down', 'elapsed.making-safe'];
const ENDS = ['released', 'safe', 'not-proven-dead'];

/** Nothing is under way any more, or nothing was begun. */
export const isEnd = (state: string): boolean => state === 'parked' || ENDS.includes(state);
const isOverdue = (event: string): boolean => event.startsWith('elapsed.') && !ORDINARY.includes(event);

const PROOFS: Partial<Record<SessionEvent['type'], Partial<Memory>>> = {
  secured: { secured: true },
  presence: { presence: true },
  'isolation-dead': { isolationDead: true },
  'isolation-joined': { isolationJoined: true },
  'voltage-matched': { matched: true },
  'pre-charged': { matched: true },
  'closed-p': { closedP: true },
  'closed-n': { closedN: true },
  'poles-follow': { polesFollow: true },
  'proven-dead': { provenDead: true, live: false },
};

/** The event alone; commands come after it. */
function hear(m: Memory, { event, taken }: MachineStep): Memory {
  if (!taken) return m;
  if (event === 'start') return { ...NOTHING_YET, started: true };
  if (event === 'acknowledge') return NOTHING_YET;
  if (event === 'trip-0' || event === 'trip-1' || isOverdue(event)) return { ...m, tripped: true };
  return { ...m, ...PROOFS[event] };
}

const ORDERED: Partial<Record<Command, Partial<Memory>>> = {
  lock: { locked: true },
  unlock: { locked: false },
  'close-train': { live: true },
  'close-pre': { live: true },
  'close-p': { live: true },
  'close-n': { live: true },
  'open-p': { closedP: false, polesFollow: false },
  'open-n': { closedN: false, polesFollow: false },
  'authorise-hold-point': { authority: true },
  'authorise-full': { authority: true },
  'ramp-down': { rampingDown: true },
  'disable-converter': { authority: false },
  'make-safe': { makingSafe: true, authority: false, closedP: false, closedN: false, polesFollow: false },
};
const order = (m: Memory, command: Command): Memory => ({
  ...m,
  ...(ENERGISING.includes(command) ? { provenDead: false } : {}),
  ...ORDERED[command],
});

/** The memory after this step. */
export const remember = (m: Memory, step: MachineStep): Memory => step.commands.reduce(order, hear(m, step));

/** What a rule sees: the memory before the step, and before each of its commands. */
interface View {
  readonly before: Memory;
  readonly step: MachineStep;
  readonly commands: readonly { readonly command: Command; readonly told: Memory }[];
}

/** @returns what is wrong, or null */
type Rule = (view: View) => string | null;

const missing = (what: Partial<Record<string, boolean>>): string | null => {
  const names = Object.keys(what).filter((name) => what[name] !== true);
  return names.length === 0 ? null : names.join(', ');
};

/** Holds each command of a kind against what it needs. */
const eachOf =
  (
    kind: readonly Command[],
    needs: (told: Memory, command: Command, step: MachineStep) => string | null,
  ): Rule =>
  ({ commands, step }) => {
    for (const { command, told } of commands) {
      if (!kind.includes(command)) continue;
      const lacks = needs(told, command, step);
      if (lacks !== null) return `${command} without: ${lacks}`;
    }
    return null;
  };

/** A session is under way and nothing has been made safe yet. */
const underWay = ({ before, step }: View): boolean =>
  before.started && !isEnd(step.before.state) && !before.makingSafe;

const has = ({ step }: View, command: Command): boolean => step.commands.includes(command);

const tripsInTheStep: Rule = (view) => {
  const { before, step } = view;
  if (!underWay(view)) return null;
  if (step.event === 'trip-0' || (isOverdue(step.event) && step.taken))
    return has(view, 'make-safe') ? null : `${step.event} without make-safe`;
  if (step.event !== 'trip-1' || before.tripped) return null;
  if (before.authority && has(view, 'ramp-down')) return null;
  return has(view, 'make-safe') ? null : `trip-1 without ${before.authority ? 'ramp-down' : 'make-safe'}`;
};

const staysDown: Rule = (view) => {
  const { before, step } = view;
  if (step.taken && step.event === 'start' && step.before.flags.latched) return 'start while latched';
  if (!step.taken) return null;
  if (step.event === 'acknowledge')
    return before.tripped && !before.provenDead ? 'acknowledged before it was proven dead' : null;
  const told = hear(before, step);
  if (step.before.flags.latched && !step.reached.flags.latched)
    return 'the latch falls without an acknowledgement';
  if (!told.tripped) return null;
  if (!step.reached.flags.latched) return 'a trip is not latched';
  if (step.reached.state === 'parked' || step.reached.state === 'released')
    return `a trip leads to ${step.reached.state}`;
  const energising = step.commands.find((c) => ENERGISING.includes(c));
  return energising === undefined ? null : `${energising} after a trip`;
};

const lossTrips: Rule = ({ before, step }) =>
  before.live && !isEnd(step.before.state) && step.event === 'trip-0' && !before.makingSafe && !step.taken
    ? 'a loss while live is not taken as a trip'
    : null;

const fixedFirst = eachOf([...CONTACTORS, ...AUTHORITY, 'enable-converter'], (m) =>
  missing({ 'lock ordered': m.locked, secured: m.secured }),
);

/** One or more rules for each invariant the machine can break in a single step. */
const RULES: Partial<Record<InvariantId, readonly Rule[]>> = {
  I1: [
    eachOf(CONTACTORS, (m, command, step) =>
      missing({
        secured: m.secured,
        presence: m.presence,
        'isolation-dead': m.isolationDead,
        ...(command === 'close-train' ? {} : { 'isolation-joined': m.isolationJoined }),
        // A converter that cannot match is charged through N and the resistor: P alone closes after it.
        ...(command === 'close-p' || (command === 'close-n' && step.before.flags.path === 'match')
          ? { match: m.matched }
          : {}),
      }),
    ),
  ],
  I2: [
    eachOf(AUTHORITY, (m) =>
      missing({
        'closed-p': m.closedP,
        'closed-n': m.closedN,
        'poles-follow': m.polesFollow,
        presence: m.presence,
        'isolation-joined': m.isolationJoined,
        'no trip since': !m.tripped,
        'no ramp-down since': !m.rampingDown,
      }),
    ),
  ],
  I4: [tripsInTheStep],
  I5: [eachOf(['unlock'], (m) => missing({ 'proven-dead': m.provenDead, 'no trip': !m.tripped }))],
  I6: [staysDown],
  I12: [fixedFirst, lossTrips],
};

export interface Broken {
  readonly id: InvariantId;
  readonly why: string;
}

/** Every invariant this step breaks. */
export function brokenOnMachine(before: Memory, step: MachineStep): Broken[] {
  let told = hear(before, step);
  const commands = step.commands.map((command) => {
    const here = { command, told };
    told = order(told, command);
    return here;
  });
  const view: View = { before, step, commands };
  return (Object.entries(RULES) as [InvariantId, readonly Rule[]][]).flatMap(([id, rules]) =>
    rules.flatMap((rule) => {
      const why = rule(view);
      return why === null ? [] : [{ id, why }];
    }),
  );
}
