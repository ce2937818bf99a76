/** The stream and what fills its gaps: keeps store, log and newest snapshot, and says when the server is lost. */
import { Hearing } from './connection.js';
import type { EventList, Me, PageEvent, Pilot, Snapshot, StateMessage, Traces } from './contract.js';
import { EventLog } from './event-log.js';
import { get, openStream } from './net.js';
import { TraceStore } from './trace-store.js';

export interface Watcher {
  events(fresh: readonly PageEvent[], first: boolean): void;
  pilot(pilot: Pilot): void;
  points(): void;
}

export class Live {
  readonly store = new TraceStore();
  readonly log = new EventLog();
  readonly hearing = new Hearing();
  snapshot: Snapshot | null = null;
  readonly #watcher: Watcher;
  #source: EventSource | null = null;
  #filling = false;
  #nowMs = 0;

  constructor(watcher: Watcher) {
    this.#watcher = watcher;
  }

  /** All that was before the stream; then the stream. */
  async begin(): Promise<void> {
    const [state, traces, pilot] = await Promise.all([
      get<Snapshot>('/api/state'),
      get<Traces>('/api/traces?from=0'),
      get<Pilot>('/api/pilot'),
    ]);
    this.snapshot = state.body;
    if (traces.body !== null) this.#fill(traces.body);
    if (pilot.body !== null) this.#watcher.pilot(pilot.body);
    await this.#fetchEvents(true);
    this.#open();
  }

  /** Once a frame: time passes, and a stream the browser gave up is opened again. */
  tick(nowMs: number): void {
    this.#nowMs = nowMs;
    if (this.snapshot !== null) this.hearing.expect(nowMs);
    if (this.hearing.retryDue(nowMs)) void this.#again();
  }

  async #again(): Promise<void> {
    const me = await get<Me>('/api/me');
    if (me.status === 401) location.reload();
    else if (me.ok) this.#open();
    else this.hearing.broke(this.#nowMs, true);
  }

  #open(): void {
    this.#source?.close();
    this.#source = openStream({
      // What came while nobody listened is asked for; the log takes each number once.
      opened: () => void this.#fetchEvents(false),
      state: (message, atMs) => this.#state(message, atMs),
      event: (event) => this.#events([event], false),
      pilot: (pilot) => this.#watcher.pilot(pilot),
      lost: (final) => this.hearing.broke(this.#nowMs, final),
    });
  }

  #state(message: StateMessage, atMs: number): void {
    // Another server counts from the beginning: nothing here is of its session.
    if (this.snapshot !== null && message.snapshot.n < this.snapshot.n) {
      location.reload();
      return;
    }
    this.hearing.heard(atMs);
    this.snapshot = message.snapshot;
    this.store.bindings = message.bindings;
    const missing = this.store.add(message.first, message.points);
    if (missing !== null) void this.#fetchPoints(missing);
    this.#watcher.points();
  }

  async #fetchPoints(from: number): Promise<void> {
    if (this.#filling) return;
    this.#filling = true;
    const answer = await get<Traces>(`/api/traces?from=${from}`);
    this.#filling = false;
    if (answer.body !== null) this.#fill(answer.body);
  }

  #fill(traces: Traces): void {
    this.store.bindings = traces.bindings;
    this.store.refill(traces.first, traces.points);
    this.#watcher.points();
  }

  async #fetchEvents(first: boolean): Promise<void> {
    const answer = await get<EventList>(`/api/events?after=${this.log.last}`);
    if (answer.body !== null) this.#events(answer.body.events, first);
  }

  #events(events: readonly PageEvent[], first: boolean): void {
    const fresh = this.log.add(events);
    if (fresh.length > 0) this.#watcher.events(fresh, first);
  }
}
