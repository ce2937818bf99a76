/** Keeps the newest reading of every role with its age, and lays out what the checks see. */
import type { Observation, Ordered, Seen, Wish } from '../checks/check.js';
import type { ReportedRoles } from '../link/frames.js';
import type { Phase, ReadingOf, Role } from '../rig/roles.js';

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
  readonly #single = new Map<(typeof SINGLE)[number], Entry>();
  readonly #rafts: (Entry | null)[];
  /** Time of the last valid frame of each port; null before the first of this session. */
  readonly #heardMs: (number | null)[];

  constructor(ports: number, rafts: number) {
    this.#devices = new Array<Entry | null>(ports).fill(null);
    this.#rafts = new Array<Entry | null>(rafts).fill(null);
    this.#heardMs = new Array<number | null>(ports).fill(null);
  }

  heard(port: number, nowMs: number): void {
    this.#heardMs[port] = nowMs;
  }

  take(port: number, roles: ReportedRoles, nowMs: number): void {
    this.#devices[port] = renew(this.#devices[port] ?? null, roles.device, nowMs);
    for (const role of SINGLE) {
      const value = roles[role];
      if (value !== undefined) this.#single.set(role, renew(this.#single.get(role) ?? null, value, nowMs));
    }
    roles.rafts.forEach((value, i) => {
      if (value !== null && i < this.#rafts.length) {
        this.#rafts[i] = renew(this.#rafts[i] ?? null, value, nowMs);
      }
    });
  }

  /** True when every role has been heard of at least once. */
  complete(): boolean {
    return (
      this.#devices.every((d) => d !== null) &&
      this.#rafts.every((r) => r !== null) &&
      SINGLE.every((role) => role === 'loop' || this.#single.has(role))
    );
  }

  /** Forgets "new" marks; called after each step. */
  settle(): void {
    for (const e of [...this.#devices, ...this.#rafts, ...this.#single.values()])
      if (e !== null) e.isNew = false;
  }

  observe(c: Circumstances): Observation {
    const seen = <R extends Role>(entry: Entry | null | undefined): Seen<R> | null =>
      entry === null || entry === undefined
        ? null
        : {
            value: entry.value as unknown as ReadingOf<R>,
            ageMs: c.nowMs - entry.sampleSinceMs,
            isNew: entry.isNew,
          };
    const role = <R extends (typeof SINGLE)[number]>(r: R): Seen<R> | null => seen<R>(this.#single.get(r));
    return {
      ...c,
      device: this.#devices.map((d) => seen<'device'>(d)),
      converter: role('converter'),
      meter: role('meter'),
      loop: role('loop'),
      isolation: role('isolation'),
      contactor: role('contactor'),
      bleeder: role('bleeder'),
      latch: role('latch'),
      berth: role('berth'),
      train: role('train'),
      rafts: this.#rafts.map((r) => seen<'raft'>(r)),
      supply: role('supply'),
      stop: role('stop'),
      portSilentMs: this.#heardMs.map((t) => (t === null ? Number.POSITIVE_INFINITY : c.nowMs - t)),
    };
  }
}

function renew(old: Entry | null, value: { readonly sample: number }, nowMs: number): Entry {
  // A standing counter does not renew the age, however fresh the frame (I7).
  const standing = old !== null && old.value.sample === value.sample;
  return { value, sampleSinceMs: standing ? old.sampleSinceMs : nowMs, isNew: !standing };
}
