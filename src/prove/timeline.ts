/**
 * Lays a journal out on one clock: that of the device which times the events. Tags carry it; readings of the same
 * port are as of its report; what another port or the supervisor did is brought over by the quickest line of each
 * (clock-offset.ts), and is as uncertain as that. Every entry has the number of its record.
 */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import { decodeToSupervisor } from '../link/codec.js';
import { HARD_WIRED, LATCH_CAUSE, type Welcome } from '../link/frames.js';
import { ORDERS, type OrderName } from '../rig/orders.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { COUNT_MS, type Heard, type Interval, type Offset, offsetOf } from './clock-offset.js';
import type { EventName } from './vocabulary.js';

/** A moment on the clock of the device that times, ms: certainly from lo to hi, told as `atMs`. */
export interface Moment extends Interval {
  /** The same on the clock it was taken from: two moments of one clock need not be brought over. */
  readonly own: Interval & { readonly clock: number };
}
export interface TimedEvent extends Moment {
  readonly name: EventName;
  /** Number of the journal record. */
  readonly n: number;
  /** Which relay, which code, which cause. */
  readonly detail: string;
  readonly value: number;
}
export interface Sample extends Moment {
  readonly n: number;
  readonly meter: ReadingOf<'meter'>;
  readonly setpointA: number;
  /** A report between this one and the one before never came, or the meter stood: nobody knows what it would show. */
  readonly gap: boolean;
}
/** What the port that times says of its contactors and of its latch, once a report. */
export interface PoleReport extends Moment {
  readonly n: number;
  /** How many of P and N say closed. */
  readonly closed: number;
  readonly latched: boolean;
}
export interface Timeline {
  readonly events: readonly TimedEvent[];
  readonly samples: readonly Sample[];
  readonly poles: readonly PoleReport[];
  /** Who answered, and on which port of the rig, from 0. */
  readonly welcomes: readonly (Welcome & { readonly port: number })[];
  /** Orders that make something live, or more live; whether they left before or after the first trip. */
  readonly energising: { readonly before: number; readonly after: number };
  /** Reports that were counted by their device and never came. */
  readonly lostReports: number;
}

/** The supervisor's own clock. */
const HOST = -1;

interface Line {
  readonly n: number;
  readonly tMs: number;
  readonly k: string;
  readonly b: unknown;
}
type TaggedName = Extract<EventName, 'mark' | 'relay' | 'watchdog' | 'make-safe' | 'parted-p'>;
const TAGGED: ReadonlySet<string> = new Set<EventName>([
  'mark',
  'relay',
  'watchdog',
  'make-safe',
  'converter-off',
  'supply-tripped',
  'parted-p',
  'parted-n',
]);

const nameOf = (table: Readonly<Record<string, number>>, value: number): string =>
  Object.entries(table).find(([, v]) => v === value)?.[0] ?? String(value);

/** @throws SyntaxError when a line is no JSON: a proof is made of journals just written */
function linesOf(journal: string): Line[] {
  return journal
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => {
      const { n, t, k, b } = JSON.parse(line) as { n: number; t: number; k: string; b: unknown };
      return { n, tMs: t / 1e6, k, b };
    });
}

/** Lines of this session: what is left of another one carries its own clock. */
function heardOf(lines: readonly Line[]): Heard[] {
  const heard: Heard[] = [];
  const nonce = (lines.find(({ k }) => k === 'header')?.b as { nonce?: string } | undefined)?.nonce;
  for (const { n, tMs, k, b } of lines) {
    if (k !== 'frame') continue;
    const [port, text] = b as [number, string];
    const decoded = decodeToSupervisor(text);
    if (decoded.ok && decoded.frame.nonce === nonce)
      heard.push({ n, tMs, port, bytes: text.length + 1, body: decoded.frame.body });
  }
  return heard;
}

/** The port whose clock everything is laid on: it sees the contactors. */
export const timingPort = (rig: Rig): number =>
  Math.max(
    0,
    rig.link.ports.findIndex(({ roles }) => roles.includes('contactor')),
  );

const energises = (o: { readonly name: string; readonly args?: { readonly ceilingA?: number } }): boolean =>
  ORDERS[o.name as OrderName]?.permission === 'durable' &&
  !(o.name === 'authority' && o.args?.ceilingA === 0);

const isStanding = (code: unknown): boolean =>
  ['trip-0', 'trip-1', 'stop'].includes(CATALOGUE[code as Code]?.effect);

/** Brings moments of every clock to that of the port that times. */
class Clocks {
  readonly #ref: number;
  readonly #offsets: readonly Offset[];

  constructor(heard: readonly Heard[], rig: Rig) {
    this.#ref = timingPort(rig);
    this.#offsets = rig.link.ports.map(({ baud }, port) =>
      offsetOf(
        heard.filter((h) => h.port === port),
        baud,
      ),
    );
  }

  /** Read off a device's clock: it shows whole counts, and an input looked at once a count is seen a count late. */
  ofDevice(port: number, clockMs: number, heardMs: number): Moment {
    const own = { clock: port, loMs: clockMs - COUNT_MS, atMs: clockMs, hiMs: clockMs + COUNT_MS };
    if (port === this.#ref) return { loMs: own.loMs, atMs: own.atMs, hiMs: own.hiMs, own };
    const theirs = this.#offsets[port]?.(heardMs);
    const ours = this.#offsets[this.#ref]?.(heardMs);
    return {
      loMs: own.loMs + (theirs?.loMs ?? Number.NaN) - (ours?.hiMs ?? Number.NaN),
      atMs: own.atMs + (theirs?.atMs ?? Number.NaN) - (ours?.atMs ?? Number.NaN),
      hiMs: own.hiMs + (theirs?.hiMs ?? Number.NaN) - (ours?.loMs ?? Number.NaN),
      own,
    };
  }

  ofHost(tMs: number): Moment {
    const ours = this.#offsets[this.#ref]?.(tMs);
    return {
      loMs: tMs - (ours?.hiMs ?? Number.NaN),
      atMs: tMs - (ours?.atMs ?? Number.NaN),
      hiMs: tMs - (ours?.loMs ?? Number.NaN),
      own: { clock: HOST, loMs: tMs, atMs: tMs, hiMs: tMs },
    };
  }
}

const detailOf = (name: TaggedName, value: number): string =>
  name === 'relay' ? nameOf(HARD_WIRED, value) : name === 'make-safe' ? nameOf(LATCH_CAUSE, value) : '';

const COUNTER = 65536;

/** Readings once a report, on the clock of the port that times. */
function readingsOf(
  heard: readonly Heard[],
  clocks: Clocks,
  ref: number,
): { samples: Sample[]; poles: PoleReport[] } {
  const samples: Sample[] = [];
  const poles: PoleReport[] = [];
  let setpointA = Number.NaN;
  let counted = Number.NaN;
  for (const { n, tMs, port, body } of heard) {
    if (body.verb !== 'report') continue;
    setpointA = body.roles.converter?.appliedSetpointA ?? setpointA;
    const { meter, contactor, device } = body.roles;
    const at = clocks.ofDevice(port, device.clockMs, tMs);
    if (port === ref && contactor !== undefined)
      poles.push({
        ...{ ...at, n, latched: device.latched === 1 },
        closed: Number(contactor.closedP === 1) + Number(contactor.closedN === 1),
      });
    // A counter that stands means a reading that is old: it counts as not taken.
    if (meter === undefined || meter.sample === samples.at(-1)?.meter.sample) continue;
    const gap = !Number.isNaN(counted) && (counted + 1) % COUNTER !== device.sample;
    counted = device.sample;
    samples.push({ ...at, n, meter, setpointA, gap });
  }
  return { samples, poles };
}

/** By the counters of the ports, between the first and the last report of each. */
function lostOf(heard: readonly Heard[]): number {
  const last = new Map<number, number>();
  let lost = 0;
  for (const { port, body } of heard) {
    if (body.verb !== 'report') continue;
    const { sample } = body.roles.device;
    lost += (sample - (last.get(port) ?? sample - 1) - 1 + COUNTER) % COUNTER;
    last.set(port, sample);
  }
  return lost;
}

export function timelineOf(journal: string, rig: Rig): Timeline {
  const lines = linesOf(journal);
  const heard = heardOf(lines);
  const clocks = new Clocks(heard, rig);
  const events: TimedEvent[] = [];
  const welcomes: Timeline['welcomes'][number][] = [];
  for (const { n, tMs, port, body } of heard) {
    if (body.verb === 'welcome') welcomes.push({ ...body, port });
    if (body.verb !== 'tag' || !TAGGED.has(body.kind) || (body.kind === 'mark' && body.value === 0)) continue;
    const name = body.kind as TaggedName;
    const { clockMs, value } = body;
    events.push({ ...clocks.ofDevice(port, clockMs, tMs), name, n, detail: detailOf(name, value), value });
  }
  let tripped = false;
  const energising = { before: 0, after: 0 };
  for (const { n, tMs, k, b } of lines) {
    const at = (name: EventName, detail: string): void => {
      events.push({ ...clocks.ofHost(tMs), name, n, detail, value: 0 });
    };
    const body = b as Readonly<Record<string, unknown>>;
    // A note or a derating is not what a step waits for.
    if (k === 'finding' && body.failing === true && isStanding(body.code)) at('finding', String(body.code));
    else if (k === 'trip') at('trip', String(body.code));
    else if (k === 'state' && body.value === 'released') at('released', '');
    else if (k === 'state' && (body.value === 'ramping-down' || body.value === 'tripped-ramping-down'))
      at('stop', String(body.value));
    else if (k === 'order' && body.sent === true)
      energising[tripped ? 'after' : 'before'] += (body.orders as { name: string }[]).filter(
        energises,
      ).length;
    if (k === 'trip') tripped = true;
  }
  events.sort((a, b) => a.atMs - b.atMs || a.n - b.n);
  return {
    events,
    ...readingsOf(heard, clocks, timingPort(rig)),
    welcomes,
    energising,
    lostReports: lostOf(heard),
  };
}
