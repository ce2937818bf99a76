/**
 * Who is signed in. An invitation is good once; what it is exchanged for is a cookie. Of both only a SHA-256 is kept,
 * so that whoever reads this memory, or a dump of it, holds no key.
 */
import type { Clock } from '../host/clock.js';
import type { PersonRole } from './api.js';
import { sha256 } from './sha256.js';

export interface Person {
  readonly name: string;
  readonly role: PersonRole;
  /** ms since 1970. */
  readonly untilMs: number;
}

export const SIGNED_IN_MS = 12 * 3600_000;
export const INVITED_MS = 3600_000;
/** More than a team; bounds what can be kept here. */
const MOST_PEOPLE = 64;
const MOST_INVITATIONS = 64;

/** Letters of other alphabets that look like a Latin one, small. */
const LOOK_ALIKE: Readonly<Record<string, string>> = {
  ...{ а: 'a', в: 'b', с: 'c', ԁ: 'd', е: 'e', һ: 'h', і: 'i', ј: 'j', к: 'k', м: 'm', н: 'h', о: 'o' },
  ...{ р: 'p', ԛ: 'q', ѕ: 's', т: 't', у: 'y', ԝ: 'w', х: 'x', ӏ: 'l', ү: 'y' },
  ...{ α: 'a', β: 'b', ε: 'e', η: 'n', ι: 'i', κ: 'k', μ: 'u', ν: 'v', ο: 'o', ρ: 'p', τ: 't', υ: 'u' },
  ...{ χ: 'x', ϲ: 'c', ϳ: 'j', ı: 'i', ſ: 's' },
};
const UNSEEN = /\p{Default_Ignorable_Code_Point}/gu;

/**
 * Two spellings that look alike are one name: it is what people are told apart by, on the page and in the journal. It
 * is not complete (nobody can be held to that), and it errs to the side of calling two names one.
 */
export const nameKey = (name: string): string =>
  [...name.normalize('NFKC').replace(UNSEEN, '').toLowerCase()]
    .map((letter) => LOOK_ALIKE[letter] ?? letter)
    .join('')
    .replace(/\s+/gu, ' ')
    .trim();

export type SignIn =
  | { readonly token: string; readonly person: Person }
  | 'not-invited'
  | 'name-taken'
  | 'too-many';

export class People {
  readonly #invitations = new Map<string, { readonly role: PersonRole; readonly untilMs: number }>();
  readonly #signedIn = new Map<string, Person>();

  /** @param newSecret makes a token nobody guesses */
  constructor(
    private readonly clock: Pick<Clock, 'wallMs'>,
    private readonly newSecret: () => string,
  ) {}

  /** @returns null while too many invitations are open */
  invite(
    role: PersonRole,
    forMs = INVITED_MS,
  ): { readonly invitation: string; readonly untilMs: number } | null {
    this.#forget();
    if (this.#invitations.size >= MOST_INVITATIONS) return null;
    const secret = this.newSecret();
    const untilMs = this.clock.wallMs() + forMs;
    this.#invitations.set(sha256(secret), { role, untilMs });
    return { invitation: secret, untilMs };
  }

  /**
   * @param replaces whether somebody signed in by this name may be replaced: one who is not there any more and has
   * lost the cookie
   */
  signIn(secret: string, name: string, replaces: (name: string) => boolean): SignIn {
    this.#forget();
    const key = sha256(secret);
    const invited = this.#invitations.get(key);
    if (invited === undefined) return 'not-invited';
    const sameName = [...this.#signedIn].find(([, p]) => nameKey(p.name) === nameKey(name));
    // The invitation stays good: it is the name that is wrong.
    if (sameName !== undefined && !replaces(sameName[1].name)) return 'name-taken';
    if (sameName === undefined && this.#signedIn.size >= MOST_PEOPLE) return 'too-many';
    this.#invitations.delete(key);
    if (sameName !== undefined) this.#signedIn.delete(sameName[0]);
    const token = this.newSecret();
    const person = { name, role: invited.role, untilMs: this.clock.wallMs() + SIGNED_IN_MS };
    this.#signedIn.set(sha256(token), person);
    return { token, person };
  }

  who(token: string): Person | null {
    const person = this.#signedIn.get(sha256(token));
    return person !== undefined && this.clock.wallMs() < person.untilMs ? person : null;
  }

  signOut(token: string): void {
    this.#signedIn.delete(sha256(token));
  }

  get list(): Person[] {
    this.#forget();
    return [...this.#signedIn.values()];
  }

  #forget(): void {
    const nowMs = this.clock.wallMs();
    for (const map of [this.#invitations, this.#signedIn])
      for (const [key, { untilMs }] of map) if (nowMs >= untilMs) map.delete(key);
  }
}
