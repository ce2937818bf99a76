/** Gathers from the records of one journal, in one pass and bounded memory, what the figures of a report show. */
import type { AuditOptions } from '../audit/audit.js';
import type { Entry } from '../audit/entry.js';
import type { Finding, Observation } from '../checks/check.js';
import type { Rig } from '../rig/schema.js';
import { type Burst, Bursts } from './burst.js';
import { CloseUp } from './close-up.js';
import { Trace } from './trace.js';

export interface PhaseSpan {
  readonly name: string;
  readonly fromMs: number;
  readonly toMs: number;
}

export interface Mark {
  readonly kind: 'trip' | 'finding' | 'refusal';
  readonly atMs: number;
  readonly text: string;
}

/** A limit that governed from here on. */
export interface Governed {
  readonly limit: string;
  readonly currentA: number | null;
  readonly atMs: number;
}

const HELD = ['setpointA', 'leastLimitA', 'isolationOhm'] as const;
const READ = [
  'outputV',
  'plugV',
  'trainV',
  'meterA',
  'converterA',
  'cableC',
  'contactC',
  'hottestC',
  'coldestC',
  'leastSoc',
  'mostSoc',
  'raftIsolationOhm',
  'pilotRmsA',
  'pilotMeanA',
  'pilotPositiveA',
  'pilotNegativeA',
] as const;
export type TraceName = (typeof HELD)[number] | (typeof READ)[number];

export interface Collected {
  /** null when no record held it. */
  readonly rig: Rig | null;
  readonly traces: Readonly<Record<TraceName, Trace>>;
  readonly closeUps: Readonly<Record<TraceName, CloseUp>>;
  readonly phases: readonly PhaseSpan[];
  readonly marks: readonly Mark[];
  readonly marksLeftOut: number;
  readonly governed: readonly Governed[];
  readonly governedLeftOut: number;
  readonly tripMs: number | null;
  readonly burst: Burst | null;
  readonly bursts: number;
  /** Time of the last record. */
  readonly endMs: number;
  /** Up to here decisions were made anew; after it nothing is known of what is in no record. */
  readonly judgedMs: number;
}

/** Traces of what is in no record. */
export const JUDGED: readonly TraceName[] = ['leastLimitA', 'isolationOhm'];

/** A session that flickers for a day shows no more when there are more. */
const MOST_MARKS = 300;
const MOST_PHASES = 200;
const MOST_GOVERNED = 300;
const GOVERNED_PHASES = ['ramping', 'holding', 'tapering'];

export class Collector {
  readonly #traces = all((holds) => new Trace(holds));
  readonly #closeUps = all((holds) => new CloseUp(holds));
  readonly #phases: { name: string; fromMs: number; toMs: number }[] = [];
  readonly #marks: Mark[] = [];
  #marksLeftOut = 0;
  readonly #governed: Governed[] = [];
  #governedLeftOut = 0;
  readonly #bursts = new Bursts();
  readonly #rafts = new Map<string, Readonly<Record<string, number>>>();
  #rig: Rig | null = null;
  #tripMs: number | null = null;
  #endMs = 0;
  #lastSeen: Observation | null = null;
  #isolationStands = true;

  /** For the audit that reads the journal. */
  readonly options: Pick<AuditOptions, 'look' | 'judged'> = {
    look: (entry) => this.#take(entry),
    judged: (_check, said, seen) => this.#judge(said.findings, seen),
  };

  get collected(): Collected {
    const last = this.#phases.at(-1);
    if (last !== undefined) last.toMs = Math.max(last.toMs, this.#endMs);
    return {
      rig: this.#rig,
      traces: this.#traces,
      closeUps: this.#closeUps,
      phases: this.#phases,
      marks: this.#marks,
      marksLeftOut: this.#marksLeftOut,
      governed: this.#governed,
      governedLeftOut: this.#governedLeftOut,
      tripMs: this.#tripMs,
      burst: this.#bursts.burst,
      bursts: this.#bursts.count,
      endMs: this.#endMs,
      judgedMs: this.#lastSeen?.nowMs ?? 0,
    };
  }

  #take({ k, b, tMs, line, port, sent }: Entry): void {
    this.#endMs = Math.max(this.#endMs, tMs);
    if (this.#phases.length === 0) this.#phases.push({ name: 'parked', fromMs: 0, toMs: 0 });
    if (line?.verb === 'report') this.#report(tMs, line.roles);
    else if (line?.verb === 'wave' && line.crcFits) this.#bursts.take(tMs, port, String(b[1]));
    for (const order of sent) {
      if (order.name === 'setpoint') this.#put('setpointA', tMs, order.args.currentA ?? Number.NaN);
      else if (order.name === 'make-safe' || order.name === 'disable-converter')
        this.#put('setpointA', tMs, Number.NaN);
    }
    if (k === 'rig') this.#rig ??= b.rig as Rig;
    else if (k === 'state') this.#state(tMs, b.value);
    else if (k === 'trip') this.#trip(tMs, String(b.code));
    else if (k === 'finding' && b.failing === true) this.#mark('finding', tMs, String(b.code));
    else if (k === 'refusal') this.#mark('refusal', tMs, String(b.code));
    else if (k === 'limit') this.#limit(tMs, b);
  }

  #put(name: TraceName, tMs: number, value: number, least = value, most = value): void {
    this.#traces[name].take(tMs, value, least, most);
    this.#closeUps[name].take(tMs, value);
  }

  #report(tMs: number, roles: ReadonlyMap<string, Readonly<Record<string, number>>>): void {
    const of = (role: string, field: string): number => roles.get(role)?.[field] ?? Number.NaN;
    if (roles.has('meter')) {
      const put = (name: TraceName, field: string, least: string, most: string): void =>
        this.#put(name, tMs, of('meter', field), of('meter', least), of('meter', most));
      put('outputV', 'outputV', 'outputMinV', 'outputMaxV');
      put('plugV', 'plugV', 'plugMinV', 'plugMaxV');
      put('meterA', 'currentA', 'currentMinA', 'currentMaxA');
      this.#put('cableC', tMs, of('meter', 'cableC'));
      this.#put('contactC', tMs, of('meter', 'contactC'));
    }
    if (roles.has('train')) this.#put('trainV', tMs, of('train', 'trainV'));
    if (roles.has('converter')) this.#put('converterA', tMs, of('converter', 'outputA'));
    if (roles.has('loop')) {
      this.#put('pilotRmsA', tMs, of('loop', 'rmsA'));
      this.#put('pilotMeanA', tMs, of('loop', 'meanA'));
      this.#put('pilotPositiveA', tMs, of('loop', 'peakPositiveA'));
      this.#put('pilotNegativeA', tMs, of('loop', 'peakNegativeA'));
    }
    let rafts = false;
    for (const [role, values] of roles) {
      if (!role.startsWith('raft')) continue;
      this.#rafts.set(role, values);
      rafts = true;
    }
    if (rafts) this.#battery(tMs);
  }

  /** Of all rafts as last reported: a figure of one of them is in the table of extremes. */
  #battery(tMs: number): void {
    const every = (field: string): number[] =>
      [...this.#rafts.values()].map((r) => r[field] ?? Number.NaN).filter(Number.isFinite);
    const least = (values: readonly number[]): number =>
      values.length > 0 ? Math.min(...values) : Number.NaN;
    const most = (values: readonly number[]): number =>
      values.length > 0 ? Math.max(...values) : Number.NaN;
    this.#put('hottestC', tMs, most(every('cellMaxC')));
    this.#put('coldestC', tMs, least(every('cellMinC')));
    const soc = every('soc');
    this.#put('leastSoc', tMs, least(soc));
    this.#put('mostSoc', tMs, most(soc));
    this.#put('raftIsolationOhm', tMs, least(every('isolationOhm')));
  }

  #state(tMs: number, value: unknown): void {
    const name = typeof value === 'string' ? value : (Object.keys(value as object)[0] ?? '');
    const last = this.#phases.at(-1);
    if (last === undefined || last.name === name) return;
    last.toMs = tMs;
    if (this.#phases.length < MOST_PHASES) this.#phases.push({ name, fromMs: tMs, toMs: tMs });
  }

  #trip(tMs: number, code: string): void {
    this.#mark('trip', tMs, code);
    this.#tripMs ??= tMs;
    for (const closeUp of Object.values(this.#closeUps)) closeUp.mark(tMs);
  }

  #mark(kind: Mark['kind'], atMs: number, text: string): void {
    // A trip is always shown.
    if (this.#marks.length < MOST_MARKS || (kind === 'trip' && this.#tripMs === null))
      this.#marks.push({ kind, atMs, text });
    else this.#marksLeftOut++;
  }

  #limit(atMs: number, { limit, currentA }: { limit: unknown; currentA: unknown }): void {
    if (this.#governed.length >= MOST_GOVERNED) {
      this.#governedLeftOut++;
      return;
    }
    this.#governed.push({
      limit: String(limit),
      currentA: typeof currentA === 'number' ? currentA : null,
      atMs,
    });
  }

  /** What no record holds: the least limit as it moves, and the isolation as it was solved. */
  #judge(findings: readonly Finding[], seen: Observation): void {
    const { nowMs, phase, governed } = seen;
    if (seen !== this.#lastSeen) {
      // In the step before no check had a figure: the last one holds no longer.
      if (this.#lastSeen !== null && !this.#isolationStands)
        this.#put('isolationOhm', this.#lastSeen.nowMs, Number.NaN);
      this.#isolationStands = false;
      this.#lastSeen = seen;
      const governs = GOVERNED_PHASES.includes(phase);
      this.#put('leastLimitA', nowMs, governs ? governed.leastLimitA : Number.NaN);
    }
    // Every check of every step comes by here: nothing is made while there is nothing to keep.
    let leastOhm = Number.POSITIVE_INFINITY;
    for (const { code, reading } of findings)
      if (code === 'isolation-low' && reading < leastOhm) leastOhm = reading;
    if (leastOhm === Number.POSITIVE_INFINITY) return;
    this.#isolationStands = true;
    this.#put('isolationOhm', nowMs, leastOhm);
  }
}

function all<T>(make: (holds: boolean) => T): Record<TraceName, T> {
  const held: readonly string[] = HELD;
  return Object.fromEntries([...HELD, ...READ].map((name) => [name, make(held.includes(name))])) as Record<
    TraceName,
    T
  >;
}
