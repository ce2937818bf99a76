/**
 * The chain of proofs as people read it: in the order a session makes them, each with the phase that needs it, the
 * checks it comes from, and the role whose reading it rests upon.
 */
import type { Code } from '../checks/catalogue.js';
import type { Proof } from '../checks/check.js';
import { CHECKS } from '../checks/index.js';
import { afterTrip, between } from '../checks/phases.js';
import { PHASES, type Phase, type Role } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { PROVEN_SAFE } from '../supervisor/permission.js';

export type ProofStanding = 'standing' | 'made' | 'lost' | 'missing' | 'later' | 'not-needed';

export interface Link {
  /** Any of them will do. */
  readonly proofs: readonly Proof[];
  readonly phase: Phase;
  /** It must go on standing up to and with this phase; null where it is made once. */
  readonly until: Phase | null;
  readonly text: string;
  readonly checks: readonly string[];
  readonly role: Role;
}

/** Also the name under which it is shown. */
type LinkName = Exclude<Proof, 'rafts-joined-all' | 'rafts-joined-some' | 'tapering'> | 'rafts-joined';

const link = (
  phase: Phase,
  until: Phase | null,
  role: Role,
  text: string,
  checks: readonly string[],
): Omit<Link, 'proofs'> => ({ phase, until, role, text, checks });

/** Every proof but `tapering`, which says who governs and opens nothing: a missing one does not compile. */
const LINKS: Readonly<Record<LinkName, Omit<Link, 'proofs'>>> = {
  secured: link(
    'securing',
    'bleeding',
    'latch',
    'train held, bonded, plug locked, stop chain closed, dead at rest',
    ['stop-chain', 'securing'],
  ),
  presence: link('proving-presence', 'ramping-down', 'loop', 'the connection is really in the train', [
    'presence-loop',
    'presence-shoes',
  ]),
  'isolation-dead': link(
    'checking-isolation',
    null,
    'isolation',
    'charger and cable side isolated from chassis',
    ['isolation-dead'],
  ),
  'train-closed': link('joining-train', 'ramping-down', 'train', 'train contactors closed', [
    'train-contactors',
  ]),
  'rafts-joined': link('joining-train', null, 'raft', 'rafts on the train bus, lowest first', ['rafts']),
  'isolation-joined': link(
    'joining-train',
    null,
    'isolation',
    'the joined network isolated, little charge stored',
    ['raft-isolation', 'hold-point'],
  ),
  'voltage-matched': link(
    'matching-voltage',
    null,
    'meter',
    'output at the voltage of the train, same sign',
    ['voltage-match'],
  ),
  'pre-charged': link('pre-charging', null, 'meter', 'output charged through the resistor, on its curve', [
    'precharge',
  ]),
  'closed-p': link('closing', 'ramping-down', 'contactor', 'pole P closed, by its auxiliary', ['contactors']),
  'closed-n': link('closing', 'ramping-down', 'contactor', 'pole N closed, by its auxiliary', ['contactors']),
  'poles-follow': link('closing', null, 'meter', 'both poles closed, by volts', [
    'contactors',
    'over-voltage',
  ]),
  'at-hold-point': link('ramping', null, 'meter', 'current stands at the hold point', ['ramp', 'tracking']),
  'hold-point-passed': link('ramping', null, 'meter', 'isolation and contact drop looked at again', [
    'hold-point',
  ]),
  'at-limit': link('ramping', null, 'meter', 'current stands at the least limit', ['ramp', 'tracking']),
  'current-zero': link('ramping-down', null, 'meter', 'current below the routine break limit', ['tracking']),
  'open-p': link('opening', null, 'contactor', 'pole P open, by auxiliary and by volts', ['poles-open']),
  'open-n': link('opening', null, 'contactor', 'pole N open, by auxiliary and by volts', ['poles-open']),
  'output-dead': link('opening', null, 'meter', 'output dead, by a voltmeter that followed it down', [
    'residual',
  ]),
  'train-open': link('parting-train', null, 'train', 'train contactors open', ['train-contactors']),
  'plug-dead': link('bleeding', null, 'meter', 'plug dead, by a voltmeter that followed it down', [
    'residual',
  ]),
  'plug-free': link('released', null, 'latch', 'plug free to be drawn', ['securing']),
};

const proofsOf = (name: LinkName): readonly Proof[] =>
  name === 'rafts-joined' ? ['rafts-joined-all', 'rafts-joined-some'] : [name];

export const CHAIN: ReadonlyMap<string, Link> = new Map(
  (Object.keys(LINKS) as LinkName[]).map((name) => [name, { ...LINKS[name], proofs: proofsOf(name) }]),
);

const LAST = PHASES.at(-1) as Phase;

/**
 * Which proofs count as made in this phase: that a pole was seen open before it was ever closed says nothing of how it
 * parts, and must not be read as "was made" while it carries current.
 */
export const countsAsMade = (phase: Phase, stands: ReadonlySet<string>): Proof[] =>
  [...CHAIN.values()]
    .filter((link) => between(phase, link.phase, LAST))
    .flatMap((link) => link.proofs.filter((p) => stands.has(p)));

/** What may be said of it. */
export const codesOf = ({ checks }: Link): Code[] => [
  ...new Set(CHECKS.filter((c) => checks.includes(c.name)).flatMap((c) => c.codes)),
];

/** This rig never makes it. */
const isStrange = (link: Link, rig: Rig): boolean =>
  link.phase === (rig.converter.matchesVoltage ? 'pre-charging' : 'matching-voltage');

export interface SeenSession {
  readonly phase: Phase;
  /** Phase in which the trip was decided, null before. */
  readonly trippedIn: Phase | null;
  readonly stands: ReadonlySet<string>;
  /** Proofs that stood in their phase or later, see `countsAsMade`. */
  readonly made: ReadonlySet<string>;
}

export function standingOf(link: Link, seen: SeenSession, rig: Rig): ProofStanding {
  const { phase, trippedIn, stands, made } = seen;
  if (isStrange(link, rig)) return 'not-needed';
  if (phase === 'parked') return 'later';
  if (link.proofs.some((p) => stands.has(p))) return 'standing';
  const needed = afterTrip(phase) && link.proofs.some((p) => PROVEN_SAFE.includes(p));
  if (needed || (trippedIn === null && link.phase === phase)) return 'missing';
  if (link.proofs.some((p) => made.has(p))) {
    const lasts = link.until !== null && (trippedIn !== null || between(phase, link.phase, link.until));
    return lasts ? 'lost' : 'made';
  }
  // What was skipped, by a stop or a trip, is made no more.
  return trippedIn === null && PHASES.indexOf(link.phase) > PHASES.indexOf(phase) ? 'later' : 'not-needed';
}
