/** What goes to the server and what comes from it. The charger goes on whether or not any of this works. */
import type { PageEvent, Pilot, Problem, StateMessage } from './contract.js';

export interface Answer<T> {
  readonly ok: boolean;
  /** 0 where the server could not be reached. */
  readonly status: number;
  readonly body: T | null;
  readonly problem: Problem | null;
}

/** An answer can be lost where the order was not. */
export const UNREACHED: Problem = {
  problem: 'The server of this page does not answer. Whether this has reached it is not known.',
};

/** An answer that takes longer is as good as none: the page says so, and what is asked next is not held up. */
const PATIENCE_MS = 15_000;

async function ask<T>(path: string, init: RequestInit): Promise<Answer<T>> {
  try {
    const signal = AbortSignal.timeout(PATIENCE_MS);
    const answer = await fetch(path, { ...init, signal, credentials: 'same-origin', cache: 'no-store' });
    const text = await answer.text();
    const body: unknown = text === '' ? null : JSON.parse(text);
    if (answer.ok) return { ok: true, status: answer.status, body: body as T, problem: null };
    const told = (body as Problem | null)?.problem;
    const problem =
      told === undefined ? { problem: `The server answered ${answer.status}.` } : (body as Problem);
    return { ok: false, status: answer.status, body: null, problem };
  } catch {
    return { ok: false, status: 0, body: null, problem: UNREACHED };
  }
}

export const get = <T>(path: string): Promise<Answer<T>> => ask<T>(path, { method: 'GET' });

export const post = <T>(path: string, body: object): Promise<Answer<T>> =>
  ask<T>(path, {
    method: 'POST',
    headers: { 'content-type': 'application/json', 'x-loopwarden': 'page' },
    body: JSON.stringify(body),
  });

export interface StreamListener {
  opened(): void;
  /** `atMs` on the clock of the page, the one frames are timed by. */
  state(message: StateMessage, atMs: number): void;
  event(event: PageEvent): void;
  pilot(pilot: Pilot): void;
  /** At once; `final` where the browser does not try again by itself. */
  lost(final: boolean): void;
}

/** Opens the stream; the browser itself comes back after a break, with Last-Event-ID. */
export function openStream(listener: StreamListener): EventSource {
  const source = new EventSource('/api/stream');
  const on = <T>(name: string, take: (data: T, atMs: number) => void): void =>
    source.addEventListener(name, (message) =>
      take(JSON.parse(message.data as string) as T, message.timeStamp),
    );
  source.addEventListener('open', () => listener.opened());
  source.addEventListener('error', () => listener.lost(source.readyState === EventSource.CLOSED));
  on<StateMessage>('state', (m, atMs) => listener.state(m, atMs));
  on<PageEvent>('event', (e) => listener.event(e));
  on<Pilot>('pilot', (p) => listener.pilot(p));
  return source;
}
