/** The list of events, newest first, to the millisecond; what came first is marked. */
import type { About, PageEvent } from './contract.js';
import { byId, el } from './dom.js';
import { against, plain, sessionTime, wallTime } from './words.js';

/** Rows in the page; the log keeps more. */
const ROWS = 300;

const LOUD: readonly PageEvent['kind'][] = ['trip', 'refusal', 'fault'];

function row(about: About, e: PageEvent): HTMLElement {
  const r = e.refusal;
  const figures = r === null ? '' : against(r);
  const remedy = r?.remedy ?? (e.code === null ? undefined : about.codes[e.code]?.remedy);
  return el(
    'li',
    { 'data-kind': e.kind, class: LOUD.includes(e.kind) ? 'loud' : null },
    el(
      'time',
      { title: `at ${wallTime(e.wallMs)} on the clock` },
      e.atMs === null ? wallTime(e.wallMs) : sessionTime(e.atMs, true),
    ),
    el('span', { class: 'kind' }, plain(e.kind)),
    el(
      'span',
      { class: 'text' },
      e.firstOut ? el('strong', { class: 'first-out' }, '① came first') : null,
      e.text,
      r === null
        ? null
        : el('span', { class: 'more' }, `asked by ${r.by}${figures === '' ? '' : `; ${figures}`}`),
      remedy === undefined || remedy === '' || !LOUD.includes(e.kind)
        ? null
        : el('span', { class: 'more' }, `→ ${remedy}`),
    ),
  );
}

export class EventsView {
  readonly #about: About;
  readonly #list = byId('event-list');

  constructor(about: About) {
    this.#about = about;
    this.#list.replaceChildren();
  }

  /** Takes those that are new, in order. */
  add(events: readonly PageEvent[]): void {
    for (const e of events.slice(-ROWS)) this.#list.prepend(row(this.#about, e));
    while (this.#list.childElementCount > ROWS) this.#list.lastElementChild?.remove();
  }
}
