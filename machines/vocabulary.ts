/**
 * Words of the session machine: the events it understands and the commands it emits. All are finite; an
 * event carries no number, and a command carries none either (the supervisor fills in volts and amps).
 */

/** Facts a check has proven; offered to the machine as long as they stand. */
export const PROOF_EVENTS = [
  'secured',
  'presence',
  'isolation-dead',
  'train-closed',
  'rafts-joined-all',
  'rafts-joined-some',
  'isolation-joined',
  'voltage-matched',
  'pre-charged',
  'closed-p',
  'closed-n',
  'poles-follow',
  'at-hold-point',
  'hold-point-passed',
  'at-limit',
  'tapering',
  'current-zero',
  'open-p',
  'open-n',
  'train-open',
  'output-dead',
  'proven-dead',
] as const;
export type ProofEvent = (typeof PROOF_EVENTS)[number];

/** What people order. */
export const ORDER_EVENTS = ['start', 'stop', 'acknowledge'] as const;
export type OrderEvent = (typeof ORDER_EVENTS)[number];

/** What findings amount to; `end` is an ending as wished, `stop` also serves controlled stops by a finding. */
export const FINDING_EVENTS = ['end', 'trip-1', 'trip-0'] as const;
export type FindingEvent = (typeof FINDING_EVENTS)[number];

/** Timers by id: a command starts one, an event says it has elapsed. Each phase with a deadline has its own. */
export const TIMERS = [
  'securing',
  'proving-presence',
  'checking-isolation',
  'joining-train',
  'matching-voltage',
  'pre-charging',
  'closing',
  'ramping',
  'ramping-down',
  'opening',
  'pole-settling',
  'parting-train',
  'bleeding',
  'tripped-ramping-down',
  'making-safe',
] as const;
export type TimerId = (typeof TIMERS)[number];
export type ElapsedEvent = `elapsed.${TimerId}`;

export type SessionEvent = { readonly type: ProofEvent | OrderEvent | FindingEvent | ElapsedEvent };
export const EVENT_TYPES: readonly SessionEvent['type'][] = [
  ...PROOF_EVENTS,
  ...ORDER_EVENTS,
  ...FINDING_EVENTS,
  ...TIMERS.map((t): ElapsedEvent => `elapsed.${t}`),
];

/** What the machine can command. The supervisor turns each into orders with figures. */
export const COMMANDS = [
  'lock',
  'unlock',
  'pilot-on',
  'pilot-off',
  'close-train',
  'open-train',
  'enable-converter',
  'match-voltage',
  'close-pre',
  'open-pre',
  'close-p',
  'close-n',
  'probe-poles',
  'authorise-hold-point',
  'authorise-full',
  'ramp-down',
  'disable-converter',
  'open-p',
  'open-n',
  'bleed-output',
  'bleed-plug',
  'end-bleeding',
  'part-poles',
  'isolation-off',
  'make-safe',
  'set-latch',
  'clear-latch',
] as const;
export type Command = (typeof COMMANDS)[number];

/** One emission of the machine, in order. */
export type Emission =
  | { readonly kind: 'command'; readonly command: Command }
  | { readonly kind: 'start-timer' | 'cancel-timer'; readonly timer: TimerId };

/** The whole memory of the machine beside its state: finite flags. */
export interface SessionFlags {
  /** How the output comes to the train's voltage. */
  readonly path: 'match' | 'pre-charge';
  readonly rafts: 'none' | 'some' | 'all';
  readonly trip: 'none' | 'trip-1' | 'trip-0';
  /** A trip is latched for this rig. */
  readonly latched: boolean;
}
