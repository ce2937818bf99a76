/**
 * An instrument as a link: what the supervisor sends is answered here as a device would, and told to the instrument
 * that stands behind a real port. The supervisor cannot tell the difference, and need not.
 *
 * It lives in the supervising process. Its watchdog guards against a supervisor that hangs, not against a process that
 * dies: that is what the instrument's own communication watchdog is for, or a hard-wired stop.
 */
import type { Clock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import { type Link, type LinkEvents, PortError } from '../link/link.js';
import { MAX_QUEUE_BYTES, sendable } from '../link/memory.js';
import type { InstrumentMap } from '../rig/instrument-schema.js';
import type { Rig } from '../rig/schema.js';
import { ConverterRole } from './converter-role.js';
import { DeviceSide } from './device-side.js';
import { MeterRole } from './meter-role.js';
import type { InstrumentRole } from './role.js';
import { type Found, overtaken, type Talk, type Trouble } from './talk.js';

/** How often the adapter looks at its watchdog, its beat and its rounds. */
const WAKE_MS = 5;
/** Frames travel as on a wire: never inside the call that sent them. */
const SOON_MS = 0;
const TELL_EVERY_MS = 1000;

/** Makes what talks to the instrument, for one opening. */
export type MakeTalk = (hear: { trouble(what: Trouble): void; note(text: string): void }) => Talk;

export interface AdapterOptions {
  readonly clock: Clock;
  readonly rig: Rig;
  /** Name of the port in the rig. */
  readonly port: string;
  /** For messages. */
  readonly path: string;
  readonly map: InstrumentMap;
  readonly pollMs: number;
  readonly talk: MakeTalk;
  readonly diagnostics: Diagnostics;
}

/** One opening and everything that dies with it. */
interface Opening {
  readonly events: LinkEvents;
  readonly talk: Talk;
  readonly role: InstrumentRole;
  readonly device: DeviceSide;
  /** Of the adapter's clock. */
  readonly originMs: number;
  inbox: string[];
  inboxBytes: number;
  outbox: string[];
  nextRoundMs: number;
  /** Trouble told last. */
  told: { readonly text: string; readonly atMs: number };
  stopWake: () => void;
}

export class InstrumentLink implements Link {
  readonly port: string;
  generation = 0;
  /** Nothing longer than a line is ever made here, and nothing longer is taken. */
  readonly dropped = { lines: 0, bytes: 0 };
  #opening: Opening | null = null;
  #attempt: Talk | null = null;

  constructor(private readonly options: AdapterOptions) {
    this.port = options.port;
  }

  async open(events: LinkEvents): Promise<void> {
    const { port, path } = this.options;
    if (this.#opening !== null || this.#attempt !== null)
      throw new PortError(port, path, 'it is open already', 'close it before opening it again');
    let opening: Opening | null = null;
    let lostBefore: string | null = null;
    const talk: Talk = this.options.talk({
      trouble: (what) => opening !== null && this.#trouble(opening, what),
      note: (text) => this.options.diagnostics.warn({ port, text }, 'instrument'),
    });
    this.#attempt = talk;
    let found: Found;
    try {
      found = await talk.open((reason) => {
        if (opening === null) lostBefore = reason;
        else this.#lost(opening, reason);
      });
    } catch (error) {
      if (this.#attempt === talk) this.#attempt = null;
      throw error;
    }
    const isOurs = this.#attempt === talk;
    if (isOurs) this.#attempt = null;
    if (!isOurs || lostBefore !== null) {
      await talk.close();
      throw new PortError(
        port,
        path,
        lostBefore ?? 'it was closed while opening',
        'check the cable, and open it again',
      );
    }
    this.generation++;
    opening = this.#begin(events, talk, found);
    this.#opening = opening;
    this.#wake(opening);
  }

  send(line: string): boolean {
    const opening = this.#opening;
    if (opening === null || !sendable(line)) return false;
    const bytes = line.length + 1;
    if (opening.inboxBytes + bytes > MAX_QUEUE_BYTES) return false;
    opening.inboxBytes += bytes;
    opening.inbox.push(line);
    if (opening.inbox.length === 1) this.options.clock.after(SOON_MS, () => this.#deliver(opening));
    return true;
  }

  async close(): Promise<void> {
    const attempt = this.#attempt;
    this.#attempt = null;
    const opening = this.#opening;
    this.#opening = null;
    await attempt?.close();
    if (opening === null) return;
    opening.stopWake();
    if (opening.role.energised) {
      // Nobody will look after it from here on. Closing throws away what is unsent, so it is given its time.
      opening.talk.offAtOnce();
      const { clock, map } = this.options;
      await new Promise<void>((resolve) => clock.after(map.timing.answerMs, resolve));
    }
    await opening.talk.close();
  }

  #begin(events: LinkEvents, talk: Talk, found: Found): Opening {
    const { clock, rig, map, port, pollMs, diagnostics } = this.options;
    const originMs = clock.nowMs();
    // Times that people and checks see count from the opening.
    const ownClock: Clock = {
      ...clock,
      nowMs: () => clock.nowMs() - originMs,
      after: (ms, run) => clock.after(ms, run),
    };
    const trouble = (what: Trouble): void => this.#trouble(opening, what);
    const role: InstrumentRole =
      map.role === 'meter'
        ? new MeterRole({ clock: ownClock, talk, trouble })
        : new ConverterRole({
            clock: ownClock,
            rig,
            limits: map.limits,
            steps: map.steps as { currentA: number; voltageV: number },
            talk,
            pollMs,
            trouble,
            expired: (setpointA) => device.tag('authority-expired', Math.round(100 * setpointA)),
            disobeys: () => device.startMakeSafe('watchdog'),
          });
    const { model, serial, firmware, outputWasOn } = found;
    if (outputWasOn)
      diagnostics.warn({ port }, 'the output stood on when the port was opened: off, and latched');
    const device = new DeviceSide({
      served: role.role,
      role,
      identity: {
        model: token(model),
        serial: token(serial),
        firmware: token(firmware),
        calibratedOn: map.calibratedOn,
      },
      limits: map.limits,
      periodMs: rig.link.periodMs,
      watchdogMs: rig.link.deviceWatchdogMs,
      latched: outputWasOn,
      emit: (line) => this.#emit(opening, line),
    });
    const opening: Opening = {
      events,
      talk,
      role,
      device,
      originMs,
      inbox: [],
      inboxBytes: 0,
      outbox: [],
      nextRoundMs: 0,
      told: { text: '', atMs: 0 },
      stopWake: () => {},
    };
    diagnostics.info({ port, model, serial, firmware }, 'instrument');
    return opening;
  }

  #nowMs(opening: Opening): number {
    return this.options.clock.nowMs() - opening.originMs;
  }

  #wake(opening: Opening): void {
    if (this.#opening !== opening) return;
    const nowMs = this.#nowMs(opening);
    opening.device.tick(nowMs);
    if (nowMs >= opening.nextRoundMs) {
      opening.role.round();
      // On a fixed beat; a beat that was missed is not made up for.
      const { pollMs } = this.options;
      opening.nextRoundMs = (Math.floor(nowMs / pollMs) + 1) * pollMs;
    }
    opening.stopWake = this.options.clock.after(WAKE_MS, () => this.#wake(opening));
  }

  #deliver(opening: Opening): void {
    const lines = opening.inbox;
    opening.inbox = [];
    opening.inboxBytes = 0;
    for (const line of lines)
      if (this.#opening === opening) opening.device.receive(line, this.#nowMs(opening));
  }

  #emit(opening: Opening, line: string): void {
    opening.outbox.push(line);
    if (opening.outbox.length > 1) return;
    this.options.clock.after(SOON_MS, () => {
      const lines = opening.outbox;
      opening.outbox = [];
      for (const each of lines) if (this.#opening === opening) opening.events.line(each);
    });
  }

  #trouble(opening: Opening, what: Trouble): void {
    if (what === overtaken || this.#opening !== opening) return;
    const nowMs = this.#nowMs(opening);
    // What goes on being wrong is told once a second.
    if (what.text !== opening.told.text || nowMs - opening.told.atMs >= TELL_EVERY_MS) {
      opening.told = { text: what.text, atMs: nowMs };
      this.options.diagnostics.warn({ port: this.port, ...what }, 'instrument');
    }
    opening.device.trouble(what.kind, what.value);
  }

  #lost(opening: Opening, reason: string): void {
    if (this.#opening !== opening) return;
    this.#opening = null;
    opening.stopWake();
    void opening.talk.close();
    opening.events.down(reason);
  }
}

/** What an instrument calls itself, in the characters a frame can carry. */
function token(text: string): string {
  const fit = text.replace(/[^A-Za-z0-9._-]+/g, '-').slice(0, 32);
  return fit === '' ? '0' : fit;
}
