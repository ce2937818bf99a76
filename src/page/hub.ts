/**
 * Everybody who watches over a stream. Five times a second each is given the events it has not had, in full and in
 * order, and the newest state with the points since the last one. Whoever takes it slowly gets fewer states, and
 * whoever takes nothing is let go; nothing is kept for anybody but the number of the last event and point, so that a
 * hundred slow pages cost what one does, and the session never waits for any. Its rounds run on the timer of a process
 * that supervises a charger: nothing in them throws.
 */
import type { Clock } from '../host/clock.js';
import { type Diagnostics, guarded, quiet } from '../host/diagnostics.js';
import type { Snapshot, StateMessage } from './api.js';
import { nameKey } from './people.js';
import type { Watch } from './watch.js';

export const STATE_EVERY_MS = 200;
/** Somebody who has taken nothing for this long has gone, whatever the connection says. */
export const STALLED_MS = 30_000;
export const MOST_STREAMS = 64;
/** Of one person, who could keep everybody else out otherwise. */
export const MOST_OF_ONE = 8;
/** Names of whom it is known when they left; far more than can be signed in. */
const MOST_NAMES = 512;
const MOST_EVENTS = 200;
/** Of a page that comes back: more it asks for by itself, in one request. */
const MOST_POINTS = 600;

export interface Message {
  readonly event: 'state' | 'event' | 'pilot';
  readonly id?: string;
  readonly data: unknown;
}

/** One connection. `send` resolves once it was taken, or never. */
export interface Taker {
  send(message: Message): Promise<void>;
  end(): void;
}

interface Stream {
  readonly name: string;
  /** Of the name; worked out once, because five times a second it is looked for. */
  readonly key: string;
  readonly taker: Taker;
  lastEvent: number;
  nextPoint: number;
  pilotCount: number;
  /** Since when it takes the last thing; null while it waits for the next. */
  busyMs: number | null;
  /** Wall time at which the sign-in behind it runs out. */
  readonly untilMs: number;
}

export class Hub {
  readonly #streams = new Set<Stream>();
  readonly #leftMs = new Map<string, number>();
  #n = 0;
  #cancel: () => void = () => {};
  #stopped = false;

  /** @param look the state of the moment; asked for once a round, and only where somebody watches */
  constructor(
    private readonly clock: Clock,
    private readonly watch: Watch,
    private readonly look: (n: number) => Snapshot,
    private readonly diagnostics: Diagnostics = quiet,
  ) {
    this.#later();
  }

  get count(): number {
    return this.#streams.size;
  }

  isWatching(name: string): boolean {
    return this.#of(nameKey(name)).length > 0;
  }

  #of(key: string): Stream[] {
    return [...this.#streams].filter((s) => s.key === key);
  }

  /** Never seen counts as gone for ever. */
  awayMs(name: string): number {
    if (this.isWatching(name)) return 0;
    const leftMs = this.#leftMs.get(nameKey(name));
    return leftMs === undefined ? Number.POSITIVE_INFINITY : this.clock.nowMs() - leftMs;
  }

  /** Signed in: counts as having been here now, so that nobody is replaced between signing in and looking. */
  greet(name: string): void {
    this.#noteHere(name);
  }

  #noteHere(name: string): void {
    const key = nameKey(name);
    // The newest last, so that it is the longest gone who is forgotten.
    this.#leftMs.delete(key);
    this.#leftMs.set(key, this.clock.nowMs());
    const [first] = this.#leftMs.keys();
    if (this.#leftMs.size > MOST_NAMES && first !== undefined) this.#leftMs.delete(first);
  }

  /**
   * @param untilMs wall time after which this person is shown nothing more
   * @returns how it ends again; null while too many watch
   */
  join(
    name: string,
    taker: Taker,
    lastEvent: number,
    untilMs = Number.POSITIVE_INFINITY,
  ): (() => void) | null {
    const key = nameKey(name);
    if (this.#streams.size >= MOST_STREAMS || this.#of(key).length >= MOST_OF_ONE) return null;
    const { next } = this.watch.traces;
    const stream = { name, key, taker, lastEvent, nextPoint: next, pilotCount: 0, busyMs: null, untilMs };
    this.#streams.add(stream);
    void this.#serve(stream, null);
    return () => void this.#leave(stream);
  }

  stop(): void {
    this.#stopped = true;
    this.#cancel();
    for (const stream of this.#streams) this.#letGo(stream);
  }

  /** Signed out: nothing more is shown. */
  drop(name: string): void {
    for (const stream of this.#of(nameKey(name))) this.#letGo(stream);
  }

  #letGo(stream: Stream): void {
    if (!this.#leave(stream)) return;
    guarded(this.diagnostics, 'a stream could not be ended', () => stream.taker.end());
  }

  /** @returns false for one that had left already */
  #leave(stream: Stream): boolean {
    if (!this.#streams.delete(stream)) return false;
    this.#noteHere(stream.name);
    return true;
  }

  #later(): void {
    this.#cancel = this.clock.after(STATE_EVERY_MS, () => {
      if (this.#stopped) return;
      // Where it fails nobody is shown anything; each page sees its state grow old and says so.
      guarded(this.diagnostics, 'a round of the page failed; the session goes on', () => this.#round());
      this.#later();
    });
  }

  #round(): void {
    if (this.#streams.size === 0) return;
    // First, so that they are let go whatever becomes of the look.
    const nowMs = this.clock.nowMs();
    const wallMs = this.clock.wallMs();
    for (const stream of this.#streams) {
      const isStalled = stream.busyMs !== null && nowMs - stream.busyMs > STALLED_MS;
      if (isStalled || wallMs >= stream.untilMs) this.#letGo(stream);
    }
    if (this.#streams.size === 0) return;
    const snapshot = this.look(++this.#n);
    for (const stream of this.#streams) if (stream.busyMs === null) void this.#serve(stream, snapshot);
  }

  async #serve(stream: Stream, looked: Snapshot | null): Promise<void> {
    const { events, traces, pilot } = this.watch;
    stream.busyMs = this.clock.nowMs();
    try {
      for (const event of events.after(stream.lastEvent, MOST_EVENTS)) {
        await this.#send(stream, { event: 'event', id: String(event.id), data: event });
        stream.lastEvent = event.id;
      }
      if (stream.pilotCount !== pilot.count) {
        stream.pilotCount = pilot.count;
        await this.#send(stream, { event: 'pilot', data: pilot.newest });
      }
      const { first, points } = traces.from(stream.nextPoint, MOST_POINTS);
      stream.nextPoint = first + points.length;
      const snapshot = looked ?? this.look(++this.#n);
      const data: StateMessage = { snapshot, first, points, bindings: [...traces.bindings] };
      await this.#send(stream, { event: 'state', data });
      stream.busyMs = null;
    } catch {
      // It has gone, or cannot be shown the state: a page that is still there must see that it lost the stream.
      this.#letGo(stream);
    }
  }

  /** Whoever takes something, however slowly, is not stalled. */
  async #send(stream: Stream, message: Message): Promise<void> {
    await stream.taker.send(message);
    if (!this.#streams.has(stream)) throw new Error('it was let go meanwhile');
    stream.busyMs = this.clock.nowMs();
  }
}
