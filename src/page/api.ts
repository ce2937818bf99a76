/**
 * What the page's server says and takes, as schemas: routes validate by them, the OpenAPI document is made from
 * them, and the page in the browser takes its types from here. Units last; null where a figure cannot be read.
 * Times named `atMs` are of the charger's clock, 0 when the page began to be served; on the simulator it runs at the
 * speed of the bench.
 */
import { z } from 'zod';
import { CODES, type Code } from '../checks/catalogue.js';
import { PHASES } from '../rig/roles.js';

export const figure = z.number().nullable();
export const phase = z.enum(PHASES);
export const code = z.enum(CODES as readonly [Code, ...Code[]]);

// ---- people ---------------------------------------------------------------------------------------------

/** A watcher sees and may trip now; an operator may take control and order; an engineer may also make faults. */
export const ROLES_OF_PEOPLE = ['watcher', 'operator', 'engineer'] as const;
export const role = z.enum(ROLES_OF_PEOPLE);
export type PersonRole = z.infer<typeof role>;

/**
 * As people sign a log: printable, not longer than a line, and something to be read in it. Of what is not seen only the
 * two joiners some scripts need are let through; what turns the direction of a line would falsify a record.
 */
export const personName = z
  .string()
  .trim()
  .min(1)
  .max(40)
  .regex(/^(?:[\u200c\u200d]|[^\p{C}\p{Zl}\p{Zp}])+$/u, 'printable characters')
  .regex(/(?=\P{Default_Ignorable_Code_Point})[\p{L}\p{N}]/u, 'a letter or a figure');

export const signInAsk = z.strictObject({ invitation: z.string().min(20).max(100), name: personName });
export const me = z.object({
  name: z.string(),
  role,
  inControl: z.boolean(),
  /** A request from another machine than the charger's own: acknowledging may not be permitted from there. */
  remote: z.boolean(),
  /** When this sign-in runs out, ms since 1970. */
  untilMs: z.number(),
});
export const invitationAsk = z.strictObject({ role });
export const invitation = z.object({ invitation: z.string(), role, untilMs: z.number() });

// ---- control --------------------------------------------------------------------------------------------

export const controlAsk = z.discriminatedUnion('do', [
  z.strictObject({ do: z.literal('take') }),
  z.strictObject({ do: z.literal('release') }),
  z.strictObject({ do: z.literal('offer'), to: personName }),
  z.strictObject({ do: z.literal('accept') }),
]);
export const control = z.object({
  /** Who holds control; nobody else's orders are taken, but for trip now. */
  holder: z.string().nullable(),
  offeredTo: z.string().nullable(),
  people: z.array(z.object({ name: z.string(), role, watching: z.boolean() })),
});

// ---- orders ---------------------------------------------------------------------------------------------

export const wishAsk = z.strictObject({
  targetSoc: z.number().min(0).max(1).optional(),
  targetEnergyKwh: z.number().positive().max(10_000).optional(),
  maxS: z.number().positive().max(86_400).optional(),
  maxCurrentA: z.number().positive().max(10_000).optional(),
});
export const orderAsk = z.discriminatedUnion('order', [
  z.strictObject({ order: z.literal('start'), wish: wishAsk.optional() }),
  z.strictObject({ order: z.literal('stop') }),
  z.strictObject({ order: z.literal('trip-now') }),
  z.strictObject({ order: z.literal('limit-current'), currentA: z.number().min(0).max(10_000) }),
  z.strictObject({ order: z.literal('sample-pilot') }),
  z.strictObject({
    order: z.literal('acknowledge'),
    /** This person has measured output and plug dead with a voltmeter proven before and after. */
    measuredDead: z.boolean().optional(),
  }),
  z.strictObject({ order: z.literal('free-plug') }),
]);
export type OrderAsk = z.infer<typeof orderAsk>;
export type OrderName = OrderAsk['order'];

/** Why something was not done: the code and its figures where the session refused, else a sentence alone. */
export const refusal = z.object({
  code: code.nullable(),
  part: z.string().nullable(),
  asked: z.string(),
  by: z.string(),
  reading: figure,
  limit: figure,
  unit: z.string(),
  setting: z.string(),
  text: z.string(),
  /** What would permit it. */
  remedy: z.string(),
});
export type RefusalShown = z.infer<typeof refusal>;
/** What the session makes of an order comes as events of the stream. */
export const taken = z.object({ taken: z.literal(true) });
export const problem = z.object({ problem: z.string(), refusal: refusal.optional() });

// ---- the bench, on the simulator alone ------------------------------------------------------------------

export const SPEEDS = [1, 2, 5, 10, 20, 60] as const;
export const faultAsk = z.strictObject({
  fault: z.string().min(1).max(40),
  magnitude: z.number().optional(),
  part: z.string().min(1).max(40).optional(),
  /** Made when the session next enters this phase; now when absent. */
  phase: phase.optional(),
  afterS: z.number().min(0).max(36_000).optional(),
  durationS: z.number().positive().max(36_000).optional(),
});
export type FaultAsk = z.infer<typeof faultAsk>;
export const speedAsk = z.strictObject({ speed: z.number().min(1).max(60) });
export const exerciseAsk = z.strictObject({ exercise: z.string().min(1).max(48) });
export const faultStanding = z.object({
  fault: z.string(),
  part: z.string(),
  magnitude: figure,
  /** Waits for this phase; null once it stands. */
  awaits: phase.nullable(),
  sinceMs: figure,
});
export const exerciseState = z.object({
  name: z.string(),
  title: z.string(),
  goal: z.string(),
  /** null while it is under way. */
  debrief: z
    .object({
      /** Said before the exercise was seen to its end, or after it. */
      reached: z.boolean(),
      lines: z.array(z.string()),
    })
    .nullable(),
});
export const bench = z.object({
  speed: z.number(),
  faults: z.array(faultStanding),
  exercise: exerciseState.nullable(),
});

// ---- what is seen ---------------------------------------------------------------------------------------

const readings = z.object({ ageMs: figure, stale: z.boolean(), values: z.record(z.string(), figure) });
export const statement = z.object({
  code,
  part: z.string().nullable(),
  failing: z.boolean(),
  reading: figure,
  limit: figure,
  unit: z.string(),
  setting: z.string(),
});
export const proofState = z.object({
  proof: z.string(),
  /** `standing` now; `made` earlier in this session and not needed to stand any more; `lost`; `missing`; `later`. */
  state: z.enum(['standing', 'made', 'lost', 'missing', 'later', 'not-needed']),
  ageMs: figure,
  statements: z.array(statement),
});
export const snapshot = z.object({
  /** Counts snapshots; not an event number. */
  n: z.number(),
  atMs: z.number(),
  /** Since the header of the journal of the session under way; null between sessions. */
  sessionMs: figure,
  phase,
  phaseS: z.number(),
  /** What runs now: nothing between sessions. */
  running: z.enum(['start', 'acknowledge', 'free-plug']).nullable(),
  by: z.string().nullable(),
  tripped: z.boolean(),
  latch: z
    .object({ code: z.string(), phase: z.string(), journal: z.string(), provenDead: z.boolean().nullable() })
    .nullable(),
  /** How the last session ended, whatever was acknowledged since; null while one runs, and before the first. */
  ended: z
    .object({
      outcome: z.enum(['released', 'tripped', 'refused']),
      exit: z.number(),
      endReason: z.string(),
      energyToBatteryKwh: figure,
      durationS: z.number(),
      residualV: figure,
      journal: z.string(),
    })
    .nullable(),
  /** By role; rafts as raft1, raft2, … */
  readings: z.record(z.string(), readings),
  setpointA: figure,
  leastA: figure,
  binding: z.string(),
  limits: z.array(z.object({ limit: z.string(), currentA: figure })),
  energyToBatteryKwh: figure,
  proofs: z.array(proofState),
  /** Findings that stand. */
  findings: z.array(statement),
  control,
  bench: bench.nullable(),
});
export type Snapshot = z.infer<typeof snapshot>;

export const EVENT_KINDS = [
  'session',
  'phase',
  'limit',
  'finding',
  'trip',
  'refusal',
  'order',
  'ended',
  'control',
  'bench',
  'exercise',
  'fault',
] as const;
export const pageEvent = z.object({
  /** Grows by one; what `Last-Event-ID` and `after` count in. */
  id: z.number().int(),
  /** On the charger's clock, as the points of the traces. */
  atMs: z.number(),
  /** As in the journal: ms since its header; null for what belongs to no session. */
  sessionMs: figure,
  wallMs: z.number(),
  kind: z.enum(EVENT_KINDS),
  text: z.string(),
  code: code.nullable(),
  /** This is what came first. */
  firstOut: z.boolean(),
  refusal: refusal.nullable(),
});
export type PageEvent = z.infer<typeof pageEvent>;
export const eventList = z.object({ events: z.array(pageEvent), last: z.number() });

/** One row a point, in this order. `binding` counts into `bindings`. Temperatures in degC, soc 0..1. */
export const TRACE_COLUMNS = [
  'atMs',
  'outputV',
  'plugV',
  'trainV',
  'currentA',
  'setpointA',
  'leastA',
  'binding',
  'cableC',
  'contactC',
  'cellMaxC',
  'soc',
] as const;
export const points = z.array(z.array(figure).length(TRACE_COLUMNS.length));
export const traces = z.object({
  columns: z.array(z.string()),
  bindings: z.array(z.string()),
  /** Number of the first point; they are numbered without a gap. */
  first: z.number(),
  points,
});
export const pilot = z.object({
  atMs: figure,
  spacingNs: figure,
  samplesA: z.array(z.number()),
});

/** A message of the stream named `state`: the newest snapshot and the points since the last one. */
export const stateMessage = z.object({ snapshot, first: z.number(), points, bindings: z.array(z.string()) });
export type StateMessage = z.infer<typeof stateMessage>;

// ---- what does not change -------------------------------------------------------------------------------

export const about = z.object({
  caution: z.array(z.string()),
  software: z.string(),
  rig: z.object({
    name: z.string(),
    title: z.string(),
    connection: z.enum(['cable', 'shoes']),
    ratedCurrentA: z.number(),
    ceilingSoc: z.number(),
    rafts: z.array(z.object({ name: z.string(), kind: z.string() })),
    matchesVoltage: z.boolean(),
    safeV: z.number(),
  }),
  simulated: z.boolean(),
  /** From where a trip may be acknowledged: only on the charger's own machine, or from any page. */
  acknowledgeFrom: z.enum(['charger', 'page']),
  phases: z.array(z.object({ phase, text: z.string() })),
  chain: z.array(z.object({ proof: z.string(), phase, text: z.string(), codes: z.array(code) })),
  codes: z.record(z.string(), z.object({ effect: z.string(), text: z.string(), remedy: z.string() })),
  faults: z.array(
    z.object({
      fault: z.string(),
      text: z.string(),
      unit: z.string(),
      magnitude: z.number(),
      part: z.string().nullable(),
    }),
  ),
  exercises: z.array(z.object({ name: z.string(), title: z.string(), goal: z.string() })),
  speeds: z.array(z.number()),
});
export type About = z.infer<typeof about>;
