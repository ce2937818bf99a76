/**
 * An order by a person at a page: may this person give it from there, and to whom does it go. Whether it is safe is
 * the session's to say; here nothing is judged but who asks. Whatever is not passed on is refused with the reason.
 */
import { wishOf } from '../checks/check.js';
import { InputError } from '../host/input-error.js';
import { PortError } from '../link/link.js';
import type { Rig } from '../rig/schema.js';
import type { PersonOrder } from '../supervisor/session-types.js';
import type { Opening, Stand } from '../supervisor/stand.js';
import type { OrderAsk, RefusalShown } from './api.js';
import type { Control } from './control.js';
import type { Person } from './people.js';
import type { Watch } from './watch.js';

export interface From {
  readonly person: Person;
  /** Not from the charger's own machine. */
  readonly remote: boolean;
}

/** 403: this person, from there; 409: nobody, now. */
export interface TurnedDown {
  readonly status: 403 | 409;
  readonly refusal: RefusalShown;
}

export const acknowledgeFrom = (rig: Rig): 'charger' | 'page' => rig.acknowledge?.from ?? 'charger';

/** A refusal by the page itself, in the words of the session's own. */
export function pageRefusal(
  asked: string,
  by: string,
  text: string,
  remedy: string,
  setting = '',
): RefusalShown {
  return { code: null, part: null, asked, by, reading: null, limit: null, unit: '', setting, text, remedy };
}

export class Orders {
  constructor(
    private readonly stand: Stand,
    private readonly control: Control,
    private readonly watch: Watch,
  ) {}

  /** @returns null when it was passed on: what becomes of it comes as events */
  async give(ask: OrderAsk, from: From): Promise<TurnedDown | null> {
    const down = this.#who(ask, from) ?? this.#when(ask, from.person);
    if (down !== null) {
      this.watch.refused(down.refusal);
      return down;
    }
    const by = from.person.name;
    this.watch.tell('order', `${by} asks: ${wordsOf(ask)}`);
    if (opens(ask) && this.stand.running === null) return this.#begin(ask, by);
    if (this.stand.person(orderOf(ask, by))) return null;
    // It is being closed: whoever reads "taken" must be able to rely on it.
    return this.#turnDown(ask.order, by, 'the session is being closed', 'wait until it is closed');
  }

  #turnDown(asked: string, by: string, text: string, remedy: string): TurnedDown {
    const refusal = pageRefusal(asked, by, text, remedy);
    this.watch.refused(refusal);
    return { status: 409, refusal };
  }

  async #begin(ask: OpeningAsk, by: string): Promise<TurnedDown | null> {
    const measuredDead = ask.order === 'acknowledge' && ask.measuredDead === true;
    const wish = wishOf((ask.order === 'start' ? ask.wish : undefined) ?? {});
    try {
      await this.stand.begin({ order: ask.order, by, wish, ...(measuredDead ? { measuredDead } : {}) });
      return null;
    } catch (error) {
      // A port that is not there: nothing was ordered.
      if (!(error instanceof InputError || error instanceof PortError)) throw error;
      return this.#turnDown(ask.order, by, error.message, 'see the message');
    }
  }

  /** Everybody who sees the page may trip now. */
  #who({ order }: OrderAsk, { person, remote }: From): TurnedDown | null {
    if (order === 'trip-now') return null;
    const no = (text: string, remedy: string, setting = ''): TurnedDown => ({
      status: 403,
      refusal: pageRefusal(order, person.name, text, remedy, setting),
    });
    if (person.role === 'watcher')
      return no(
        'a watcher orders nothing but trip now',
        'sign in with an invitation as operator or engineer',
      );
    if (!this.control.isHeldBy(person.name)) {
      const { holder } = this.control;
      return no(
        holder === null ? 'nobody holds control' : `${holder} holds control`,
        holder === null ? 'take control first' : `have it offered to you by ${holder}`,
      );
    }
    if (order === 'acknowledge' && remote && acknowledgeFrom(this.stand.loaded.rig) === 'charger')
      return no(
        'a trip is acknowledged at the charger itself, by somebody who can see it',
        "open the page on the charger's own machine, or have the rig say acknowledge.from: page",
        'acknowledge.from',
      );
    return null;
  }

  #when(ask: OrderAsk, { name }: Person): TurnedDown | null {
    const no = (text: string, remedy: string): TurnedDown => ({
      status: 409,
      refusal: pageRefusal(order, name, text, remedy),
    });
    const { order } = ask;
    const { running, session } = this.stand;
    // Told here and not to the session: a held key would fill its journal.
    if (order === 'trip-now' && running !== null && session?.tripped === true)
      return no('it has tripped already', 'nothing more is needed; keep clear until it is proven dead');
    if (running !== null || opens(ask)) return null;
    return no('no session is under way', 'start one');
  }
}

type OpeningAsk = Extract<OrderAsk, { order: Opening }>;

const opens = (ask: OrderAsk): ask is OpeningAsk =>
  ask.order === 'start' || ask.order === 'acknowledge' || ask.order === 'free-plug';

function orderOf(ask: OrderAsk, by: string): PersonOrder {
  return ask.order === 'limit-current'
    ? { order: ask.order, by, currentA: ask.currentA }
    : { order: ask.order, by };
}

function wordsOf(ask: OrderAsk): string {
  if (ask.order === 'limit-current') return `limit the current to ${ask.currentA} A`;
  if (ask.order === 'acknowledge' && ask.measuredDead === true)
    return 'acknowledge, having measured output and plug dead by hand';
  if (ask.order !== 'start') return ask.order.replace('-', ' ');
  const { targetSoc, targetEnergyKwh, maxCurrentA, maxS } = ask.wish ?? {};
  const wishes = [
    targetSoc === undefined ? null : `to ${(100 * targetSoc).toFixed(1)} %`,
    targetEnergyKwh === undefined ? null : `${targetEnergyKwh} kWh`,
    maxCurrentA === undefined ? null : `at most ${maxCurrentA} A`,
    maxS === undefined ? null : `at most ${maxS} s`,
  ].filter((w) => w !== null);
  return `start${wishes.length > 0 ? `, ${wishes.join(', ')}` : ''}`;
}
