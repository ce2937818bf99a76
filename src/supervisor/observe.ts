/** Keeps the newest reading of every role with its age, and lays out what the checks see. */
import type { Observation, Ordered, Seen, Wish } from '../checks/check.js';
import { joinedOf } from '../checks/where.js';
import type { ReportedRoles } from '../link/frames.js';
import type { Phase, ReadingOf, Role } from '../rig/roles.js';

/** One for each role, kept and written over: what leaves here is a `Seen` of its own. */
interface Entry {
  value: { readonly sample: number };
  sampleSinceMs: number;
  isNew: boolean;
}

const SINGLE = [
  'converter',
  'meter',
  'loop',
  'isolation',
  'contactor',
  'bleeder',
  'latch',
  'berth',
  'train',
  'supply',
  'stop',
] as const satisfies readonly Role[];
type Single = (typeof SINGLE)[number];

/** Everything of an observation that does not come from a device. */
export interface Circumstances {
  readonly nowMs: number;
  readonly stepMs: number;
  readonly phase: Phase;
  readonly phaseMs: number;
  readonly trippedIn: Phase | null;
  readonly ordered: Ordered;
  readonly wish: Wish;
  readonly governed: Observation['governed'];
  readonly journal: Observation['journal'];
  readonly energyToBatteryKwh: number;
  readonly sessionMs: number;
}

export class Readings {
  readonly #devices: (Entry | null)[];
  readonly #single: Record<Single, Entry | null> = {
    converter: null,
    meter: null,
    loop: null,
    isolation: null,
    contactor: null,
    bleeder: null,
    latch: null,
    berth: null,
    train: null,
    supply: null,
    stop: null,
  };
  readonly #rafts: (Entry | null)[];
  /** Time of the last valid frame of each port; minus infinity before the first of this session. */
  readonly #heardMs: number[];

  constructor(ports: number, rafts: number) {
    this.#devices = new Array<Entry | null>(ports).fill(null);
    this.#rafts = new Array<Entry | null>(rafts).fill(null);
    this.#heardMs = new Array<number>(ports).fill(Number.NEGATIVE_INFINITY);
  }

  heard(port: number, nowMs: number): void {
    this.#heardMs[port] = nowMs;
  }

  take(port: number, roles: ReportedRoles, nowMs: number): void {
    this.#devices[port] = renew(this.#devices[port] ?? null, roles.device, nowMs);
    // By name, not in a loop over the roles: a key that changes is looked up anew each time.
    const single = this.#single;
    single.converter = renewed(single.converter, roles.converter, nowMs);
    single.meter = renewed(single.meter, roles.meter, nowMs);
    single.loop = renewed(single.loop, roles.loop, nowMs);
    single.isolation = renewed(single.isolation, roles.isolation, nowMs);
    single.contactor = renewed(single.contactor, roles.contactor, nowMs);
    single.bleeder = renewed(single.bleeder, roles.bleeder, nowMs);
    single.latch = renewed(single.latch, roles.latch, nowMs);
    single.berth = renewed(single.berth, roles.berth, nowMs);
    single.train = renewed(single.train, roles.train, nowMs);
    single.supply = renewed(single.supply, roles.supply, nowMs);
    single.stop = renewed(single.stop, roles.stop, nowMs);
    for (let i = 0; i < roles.rafts.length && i < this.#rafts.length; i++) {
      const value = roles.rafts[i] ?? null;
      if (value !== null) this.#rafts[i] = renew(this.#rafts[i] ?? null, value, nowMs);
    }
  }

  /** True when every role has been heard of at least once. */
  complete(): boolean {
    return (
      this.#devices.every((d) => d !== null) &&
      this.#rafts.every((r) => r !== null) &&
      SINGLE.every((role) => role === 'loop' || this.#single[role] !== null)
    );
  }

  /** Forgets "new" marks; called after each step. */
  settle(): void {
    for (const e of this.#devices) settled(e);
    for (const e of this.#rafts) settled(e);
    const single = this.#single;
    settled(single.converter);
    settled(single.meter);
    settled(single.loop);
    settled(single.isolation);
    settled(single.contactor);
    settled(single.bleeder);
    settled(single.latch);
    settled(single.berth);
    settled(single.train);
    settled(single.supply);
    settled(single.stop);
  }

  /** Written out field by field: spreading twenty of them and adding fifteen was a tenth of a step in its profile. */
  observe(c: Circumstances): Observation {
    const { nowMs } = c;
    const single = this.#single;
    const rafts = this.#rafts.map((r) => seenOf<'raft'>(r, nowMs));
    return {
      nowMs,
      stepMs: c.stepMs,
      phase: c.phase,
      phaseMs: c.phaseMs,
      trippedIn: c.trippedIn,
      device: this.#devices.map((d) => seenOf<'device'>(d, nowMs)),
      converter: seenOf<'converter'>(single.converter, nowMs),
      meter: seenOf<'meter'>(single.meter, nowMs),
      loop: seenOf<'loop'>(single.loop, nowMs),
      isolation: seenOf<'isolation'>(single.isolation, nowMs),
      contactor: seenOf<'contactor'>(single.contactor, nowMs),
      bleeder: seenOf<'bleeder'>(single.bleeder, nowMs),
      latch: seenOf<'latch'>(single.latch, nowMs),
      berth: seenOf<'berth'>(single.berth, nowMs),
      train: seenOf<'train'>(single.train, nowMs),
      rafts,
      joined: joinedOf(rafts),
      supply: seenOf<'supply'>(single.supply, nowMs),
      stop: seenOf<'stop'>(single.stop, nowMs),
      ordered: c.ordered,
      wish: c.wish,
      governed: c.governed,
      portSilentMs: this.#heardMs.map((heardMs) => nowMs - heardMs),
      journal: c.journal,
      energyToBatteryKwh: c.energyToBatteryKwh,
      sessionMs: c.sessionMs,
    };
  }
}

function seenOf<R extends Role>(entry: Entry | null, nowMs: number): Seen<R> | null {
  if (entry === null) return null;
  const { value, sampleSinceMs, isNew } = entry;
  return { value: value as unknown as ReadingOf<R>, ageMs: nowMs - sampleSinceMs, isNew };
}

function settled(entry: Entry | null): void {
  if (entry !== null) entry.isNew = false;
}

const renewed = (old: Entry | null, value: Entry['value'] | undefined, nowMs: number): Entry | null =>
  value === undefined ? old : renew(old, value, nowMs);

function renew(old: Entry | null, value: { readonly sample: number }, nowMs: number): Entry {
  if (old === null) return { value, sampleSinceMs: nowMs, isNew: true };
  // A standing counter does not renew the age, however fresh the frame (I7).
  const standing = old.value.sample === value.sample;
  old.value = value;
  if (!standing) old.sampleSinceMs = nowMs;
  old.isNew = !standing;
  return old;
}
