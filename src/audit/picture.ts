/**
 * What a journal shows up to here, rebuilt from its records alone: readings with the age of their samples, proofs
 * given to the machine, where it stands, what was ordered. Shares no code with the supervisor that wrote it.
 */
import { type Planned, plannedOf } from '../journal/planned.js';
import { ORDERS, type OrderName } from '../rig/orders.js';
import type { Rig } from '../rig/schema.js';
import type { Entry, JournaledOrder } from './entry.js';
import type { Values } from './line-reader.js';

export interface Reading {
  readonly value: Values;
  /** When its sample counter last moved. */
  readonly sinceMs: number;
}

/** Timers whose end is a step of the sequence; the end of any other is a fault of its phase. */
const ORDINARY = ['elapsed.pole-settling', 'elapsed.tripped-ramping-down', 'elapsed.making-safe'];
export const isOverdue = (event: string): boolean =>
  event.startsWith('elapsed.') && !ORDINARY.includes(event);
export const isTrip = (event: string): boolean =>
  event === 'trip-0' || event === 'trip-1' || isOverdue(event);

export const isDurable = (order: JournaledOrder): boolean =>
  ORDERS[order.name as OrderName].permission === 'durable';
/** Orders that can make something live, or more live. */
export const energises = (o: JournaledOrder): boolean =>
  isDurable(o) && !(o.name === 'authority' && o.args.ceilingA === 0);

export class Picture {
  readonly readings = new Map<string, Reading>();
  /** Events given to the machine since it last left `parked`. */
  readonly events = new Set<string>();
  phase = 'parked';
  /** The phase in which the records of this very moment began. */
  phaseBefore = 'parked';
  step = '';
  latched = false;
  nowMs = 0;
  tripMs: number | null = null;
  makeSafeMs: number | null = null;
  provenDead = false;
  /** Codes that may stand this long before they act, ms: a hard-wired protection is being proven. */
  observing: { readonly codes: readonly string[]; readonly forMs: number } = { codes: [], forMs: 0 };
  planned: Planned | null = null;
  setpointA = 0;
  setpointMs: number | null = null;
  authority: { readonly ceilingA: number; readonly untilMs: number } = { ceilingA: 0, untilMs: 0 };

  constructor(readonly rig: Rig) {}

  get started(): boolean {
    return this.events.has('start');
  }
  get ended(): boolean {
    return ['parked', 'released', 'safe', 'not-proven-dead'].includes(this.phase);
  }
  /** Under way: left `parked`, neither tripped nor at an end. */
  get underWay(): boolean {
    return this.started && !this.ended && this.tripMs === null;
  }

  of(role: string): Values | null {
    return this.readings.get(role)?.value ?? null;
  }
  value(role: string, field: string): number {
    return this.readings.get(role)?.value[field] ?? Number.NaN;
  }
  ageMs(role: string): number {
    const r = this.readings.get(role);
    return r === undefined ? Number.POSITIVE_INFINITY : this.nowMs - r.sinceMs;
  }
  /** Rafts that say they are joined, as `raft1`, … */
  joined(): string[] {
    return this.rig.battery.rafts.flatMap((r, i) =>
      r.kind === 'battery' && this.value(`raft${i + 1}`, 'joined') === 1 ? [`raft${i + 1}`] : [],
    );
  }

  /** Time has come to this record; what it says is taken by `take`. */
  reach(tMs: number): void {
    if (tMs > this.nowMs) this.phaseBefore = this.phase;
    this.nowMs = tMs;
  }

  take(e: Entry): void {
    if (e.line?.verb === 'report') this.#report(e);
    else if (e.k === 'event') this.#event(e.b as string);
    else if (e.k === 'setup') {
      this.observing = e.b.observing ?? this.observing;
      this.planned = plannedOf(e.b);
    } else if (e.k === 'state') this.#state(e.b);
    else for (const order of e.sent) this.#sent(order, e.tMs);
  }

  #report(e: Entry): void {
    for (const [role, value] of e.line?.roles ?? []) {
      const name = role === 'device' ? `device${e.port}` : role;
      const old = this.readings.get(name);
      // A standing counter does not renew the age, however fresh the line.
      const standing = old !== undefined && old.value.sample === value.sample;
      this.readings.set(name, { value, sinceMs: standing ? old.sinceMs : e.tMs });
    }
  }

  #event(event: string): void {
    if (event === 'start' || event === 'acknowledge') {
      this.events.clear();
      this.tripMs = null;
      this.makeSafeMs = null;
      this.provenDead = false;
    }
    if (event === 'proven-dead') this.provenDead = true;
    if (isTrip(event)) this.tripMs ??= this.nowMs;
    if (event !== 'acknowledge') this.events.add(event);
  }

  #state({ value, flags }: { value: string | Record<string, string>; flags: { latched: boolean } }): void {
    [this.phase, this.step] = typeof value === 'string' ? [value, ''] : Object.entries(value)[0]!;
    this.latched = flags.latched;
  }

  #sent(order: JournaledOrder, tMs: number): void {
    if (energises(order)) this.provenDead = false;
    if (order.name === 'make-safe') {
      this.makeSafeMs ??= tMs;
      this.authority = { ceilingA: 0, untilMs: 0 };
    }
    if (order.name === 'setpoint') {
      this.setpointA = order.args.currentA ?? Number.NaN;
      this.setpointMs = tMs;
    }
    if (order.name === 'authority') {
      const { ceilingA = 0, lifeMs = 0 } = order.args;
      this.authority = { ceilingA, untilMs: tMs + lifeMs };
    }
  }
}
