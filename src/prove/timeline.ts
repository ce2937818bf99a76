/**
 * Lays a journal out on one clock: that of the device which times the events. Tags carry it; readings of the same
 * port are as of its report; what another port or the supervisor did is brought over by the quickest line of each,
 * and is as uncertain as that. Every entry has the number of its record.
 */
import { decodeToSupervisor } from '../link/codec.js';
import { HARD_WIRED, LATCH_CAUSE, type Welcome } from '../link/frames.js';
import { transitMs } from '../rig/frame-size.js';
import type { ReadingOf } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { EventName } from './vocabulary.js';

/** A moment on the device's clock, ms: somewhere from lo to hi, told as `atMs`. */
export interface Moment {
  readonly loMs: number;
  readonly atMs: number;
  readonly hiMs: number;
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
}
export interface Timeline {
  readonly events: readonly TimedEvent[];
  readonly samples: readonly Sample[];
  /** Who answered, and on which port of the rig, from 0. */
  readonly welcomes: readonly (Welcome & { readonly port: number })[];
  /** Orders that energise and left after the first mark, or at all where there is none. */
  readonly energisingOrders: number;
  readonly end: Readonly<Record<string, unknown>> | null;
}

/** From a byte on the wire to the step that takes it: an operating system may take this long; practice, no source. */
const DELIVERY_MS = 5;
/** One count of the device's clock. */
const COUNT_MS = 1;

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

interface Heard {
  readonly n: number;
  readonly tMs: number;
  readonly port: number;
  readonly bytes: number;
  readonly body: Extract<ReturnType<typeof decodeToSupervisor>, { ok: true }>['frame']['body'];
}

function heardOf(lines: readonly Line[]): Heard[] {
  const heard: Heard[] = [];
  for (const { n, tMs, k, b } of lines) {
    if (k !== 'frame') continue;
    const [port, text] = b as [number, string];
    const decoded = decodeToSupervisor(text);
    if (decoded.ok) heard.push({ n, tMs, port, bytes: text.length + 1, body: decoded.frame.body });
  }
  return heard;
}

/** Host time minus device time of each port at the quickest report, less its time on the wire; NaN: never heard. */
function offsets(heard: readonly Heard[], rig: Rig): number[] {
  return rig.link.ports.map(({ baud }, port) => {
    let least = Number.POSITIVE_INFINITY;
    for (const h of heard)
      if (h.port === port && h.body.verb === 'report')
        least = Math.min(least, h.tMs - h.body.roles.device.clockMs - transitMs(h.bytes, baud));
    return Number.isFinite(least) ? least : Number.NaN;
  });
}

/** The port whose clock everything is laid on: it sees the contactors. */
export const timingPort = (rig: Rig): number =>
  Math.max(
    0,
    rig.link.ports.findIndex(({ roles }) => roles.includes('contactor')),
  );

/** Orders the supervisor may send that make something live, or more live. */
const ENERGISES: ReadonlySet<string> = new Set([
  'enable-converter',
  'close-p',
  'close-n',
  'close-pre',
  'authority',
]);

export function timelineOf(journal: string, rig: Rig): Timeline {
  const lines = linesOf(journal);
  const heard = heardOf(lines);
  const offsetMs = offsets(heard, rig);
  const ref = timingPort(rig);
  const refMs = offsetMs[ref] as number;
  const ownClock = (clockMs: number): Moment => ({ loMs: clockMs, atMs: clockMs, hiMs: clockMs + COUNT_MS });
  const onPort = (port: number, clockMs: number): Moment => {
    if (port === ref) return ownClock(clockMs);
    const atMs = clockMs + (offsetMs[port] as number) - refMs;
    return { loMs: atMs - DELIVERY_MS, atMs, hiMs: atMs + DELIVERY_MS + COUNT_MS };
  };
  const onHost = (tMs: number): Moment => {
    const atMs = tMs - refMs;
    return { loMs: atMs, atMs, hiMs: atMs + DELIVERY_MS + COUNT_MS };
  };

  const events: TimedEvent[] = [];
  const samples: Sample[] = [];
  const welcomes: Timeline['welcomes'][number][] = [];
  let setpointA = Number.NaN;
  for (const { n, port, body } of heard) {
    if (body.verb === 'welcome') welcomes.push({ ...body, port });
    if (body.verb === 'tag' && TAGGED.has(body.kind) && !(body.kind === 'mark' && body.value === 0)) {
      const name = body.kind as TaggedName;
      const detail =
        name === 'relay'
          ? nameOf(HARD_WIRED, body.value)
          : name === 'make-safe'
            ? nameOf(LATCH_CAUSE, body.value)
            : '';
      events.push({ ...onPort(port, body.clockMs), name, n, detail, value: body.value });
    }
    if (body.verb !== 'report') continue;
    setpointA = body.roles.converter?.appliedSetpointA ?? setpointA;
    const { meter } = body.roles;
    if (meter) samples.push({ ...onPort(port, body.roles.device.clockMs), n, meter, setpointA });
  }
  let end: Timeline['end'] = null;
  let energisingOrders = 0;
  for (const { n, tMs, k, b } of lines) {
    const at = (name: EventName, detail: string): void => {
      events.push({ ...onHost(tMs), name, n, detail, value: 0 });
    };
    const body = b as Readonly<Record<string, unknown>>;
    if (k === 'finding' && body.failing === true) at('finding', String(body.code));
    else if (k === 'trip') at('trip', String(body.code));
    else if (k === 'state' && body.value === 'released') at('released', '');
    else if (k === 'state' && (body.value === 'ramping-down' || body.value === 'tripped-ramping-down'))
      at('stop', String(body.value));
    else if (k === 'end') end = body;
    else if (k === 'order' && body.sent === true)
      energisingOrders += (body.orders as { name: string }[]).filter((o) => ENERGISES.has(o.name)).length;
  }
  events.sort((a, b) => a.atMs - b.atMs || a.n - b.n);
  return { events, samples, welcomes, energisingOrders, end };
}
