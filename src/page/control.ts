/**
 * Who holds control of the charger: one person at a time. It is handed over in two steps, offered and accepted, so
 * that nobody holds it without knowing. Nothing here touches the session: without anybody in control it goes on.
 */
import { nameKey } from './people.js';

/** Somebody who has not been watching for this long may be replaced without being asked. */
export const AWAY_MS = 30_000;

export interface Present {
  /** ms since this person last had the page open; 0 while it is open. */
  awayMs(name: string): number;
  /** A person of this name who may hold control is signed in. */
  mayHold(name: string): boolean;
}

const same = (a: string | null, b: string): boolean => a !== null && nameKey(a) === nameKey(b);

export class Control {
  #holder: string | null = null;
  #offeredTo: string | null = null;

  constructor(private readonly present: Present) {}

  get holder(): string | null {
    return this.#holder;
  }
  get offeredTo(): string | null {
    return this.#offeredTo;
  }
  isHeldBy(name: string): boolean {
    return same(this.#holder, name);
  }

  /** Each returns why not, or null when it was done. */
  take(by: string): string | null {
    const holder = this.#holder;
    if (holder !== null && !same(holder, by)) {
      const awayMs = this.present.awayMs(holder);
      if (this.present.mayHold(holder) && !(awayMs >= AWAY_MS))
        return `${holder} holds control; ask for it to be offered to you, or wait until that page has been closed for ${AWAY_MS / 1000} s`;
    }
    this.#set(by);
    return null;
  }

  release(by: string): string | null {
    if (!same(this.#holder, by)) return this.#notHeldBy(by);
    this.#set(null);
    return null;
  }

  offer(by: string, to: string): string | null {
    if (!same(this.#holder, by)) return this.#notHeldBy(by);
    if (same(to, by)) return 'control is yours already';
    if (!this.present.mayHold(to)) return `nobody by the name ${to} is signed in who may hold control`;
    this.#offeredTo = to;
    return null;
  }

  accept(by: string): string | null {
    if (!same(this.#offeredTo, by)) return 'control was not offered to you';
    this.#set(by);
    return null;
  }

  /** Signed out, or replaced by another sign-in of that name. */
  left(name: string): void {
    if (same(this.#holder, name)) this.#set(null);
    else if (same(this.#offeredTo, name)) this.#offeredTo = null;
  }

  #notHeldBy(by: string): string {
    return this.#holder === null
      ? 'nobody holds control; take it first'
      : `${this.#holder} holds control, not ${by}`;
  }

  #set(holder: string | null): void {
    this.#holder = holder;
    this.#offeredTo = null;
  }
}
