/**
 * Orders to the session. What a role can ask is offered whether or not it would be safe now: the charger refuses
 * with its reason, and that reason is what people need to see.
 */
import type { About, Me, OrderAsk, OrderName, Snapshot } from './contract.js';
import { button, byId, el, labelled, numberInput, numberOf, setHidden, setText } from './dom.js';
import { post, UNREACHED } from './net.js';
import { acknowledgeNote, controlNote, ordersFor } from './offers.js';
import type { RefusalView } from './refusal-view.js';

const WORDS: Record<OrderName, string> = {
  start: 'start a charge',
  stop: 'stop the charge',
  'trip-now': 'trip now',
  'limit-current': 'limit the current',
  'sample-pilot': 'sample the pilot',
  acknowledge: 'acknowledge the trip',
  'free-plug': 'free the plug',
};

const S_PER_MIN = 60;

export class OrdersView {
  readonly #about: About;
  readonly #me: Me;
  readonly #refusals: RefusalView;
  readonly #said = byId('orders-said');
  readonly #control = el('p', { class: 'note' });
  readonly #latch = el('p', { class: 'note' });

  constructor(about: About, me: Me, refusals: RefusalView) {
    this.#about = about;
    this.#me = me;
    this.#refusals = refusals;
    const offered = ordersFor(me);
    const forms: Partial<Record<OrderName, () => HTMLElement>> = {
      start: () => this.#start(),
      stop: () => this.#simple('stop', 'Stop', 'Ramps down, opens, bleeds, frees the plug.'),
      'limit-current': () => this.#limit(),
      'sample-pilot': () => this.#simple('sample-pilot', 'Sample pilot', 'Drawn below the traces.'),
      acknowledge: () => this.#acknowledge(),
      'free-plug': () =>
        this.#simple('free-plug', 'Free plug', 'After a trip; only with everything proven dead.'),
    };
    byId('order-forms').replaceChildren(
      this.#control,
      ...offered.map((order) => forms[order]?.()).filter((form) => form !== undefined),
    );
  }

  async give(ask: OrderAsk): Promise<void> {
    const words = WORDS[ask.order];
    setText(this.#said, `Asking: ${words} …`);
    const answer = await post('/api/orders', ask);
    setText(
      this.#said,
      answer.ok
        ? `Asked: ${words}. What comes of it is told in the events.`
        : answer.problem === UNREACHED
          ? `No answer: ${words}. It may have been taken all the same.`
          : `Not taken: ${words}.`,
    );
    if (answer.problem !== null) this.#refusals.problem(words, answer.problem);
  }

  draw(snapshot: Snapshot): void {
    const note = controlNote(this.#me, snapshot.control);
    setHidden(this.#control, note === null);
    setText(this.#control, note ?? '');
    const latch = acknowledgeNote(this.#me, this.#about, snapshot);
    setHidden(this.#latch, latch === null);
    setText(this.#latch, latch ?? '');
  }

  #form(
    name: string,
    submit: string,
    note: string,
    fields: HTMLElement[],
    ask: () => OrderAsk | null,
  ): HTMLElement {
    const form = el(
      'form',
      { class: 'order', 'aria-label': name, id: `order-${name.toLowerCase().replaceAll(' ', '-')}` },
      ...fields,
      el(
        'div',
        { class: 'do' },
        el('button', { type: 'submit' }, submit),
        note === '' ? null : el('p', { class: 'note' }, note),
      ),
    );
    form.addEventListener('submit', (e) => {
      e.preventDefault();
      const order = ask();
      if (order !== null) void this.give(order);
    });
    return form;
  }

  #simple(order: 'stop' | 'sample-pilot' | 'free-plug', word: string, note: string): HTMLElement {
    return this.#form(word, word, note, [], () => ({ order }));
  }

  #start(): HTMLElement {
    const { ratedCurrentA, ceilingSoc } = this.#about.rig;
    const soc = numberInput({ min: 0, max: 100, placeholder: (ceilingSoc * 100).toFixed(0) });
    const energy = numberInput({ min: 0, placeholder: 'any' });
    const current = numberInput({ min: 0, max: ratedCurrentA, placeholder: ratedCurrentA });
    const time = numberInput({ min: 0, placeholder: 'any' });
    const wish = el(
      'fieldset',
      { class: 'wish' },
      el('legend', {}, 'Wish; empty means the rig’s own'),
      labelled('To state of charge', soc, '%'),
      labelled('Energy', energy, 'kWh'),
      labelled('Most current', current, 'A'),
      labelled('Longest time', time, 'min'),
    );
    return this.#form('Start', 'Start', '', [wish], () => {
      const [s, e, c, t] = [soc, energy, current, time].map(numberOf) as (number | null)[];
      const wished = {
        ...(s == null ? {} : { targetSoc: s / 100 }),
        ...(e == null ? {} : { targetEnergyKwh: e }),
        ...(c == null ? {} : { maxCurrentA: c }),
        ...(t == null ? {} : { maxS: t * S_PER_MIN }),
      };
      return { order: 'start', ...(Object.keys(wished).length === 0 ? {} : { wish: wished }) };
    });
  }

  #limit(): HTMLElement {
    const current = numberInput({ min: 0, max: 10_000, required: true });
    return this.#form(
      'Limit current',
      'Limit',
      'Only ever lowers it.',
      [labelled('No more than', current, 'A')],
      () => {
        const currentA = numberOf(current);
        return currentA === null ? null : { order: 'limit-current', currentA };
      },
    );
  }

  #acknowledge(): HTMLElement {
    const measured = el('input', { type: 'checkbox' });
    const tick = el(
      'label',
      { class: 'tick' },
      measured,
      el(
        'span',
        {},
        el('strong', {}, 'Measured dead. '),
        'I have measured output and plug dead, pole to pole and to chassis, with a voltmeter proven before and after. My word, under my name.',
      ),
    );
    return this.#form('Acknowledge', `Acknowledge as ${this.#me.name}`, '', [tick, this.#latch], () => {
      const measuredDead = measured.checked;
      // A word given once is not given again by the next click.
      measured.checked = false;
      return { order: 'acknowledge', ...(measuredDead ? { measuredDead } : {}) };
    });
  }
}

/** The button every signed-in person has, wherever the page stands. */
export function wireTripNow(orders: OrdersView): void {
  const make = button('Trip now', () => void orders.give({ order: 'trip-now' }), {
    'aria-describedby': 'trip-now-note',
  });
  byId('trip-now').replaceChildren(make);
}
