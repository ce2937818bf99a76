/**
 * Refusals, large, until somebody dismisses them: what was asked and by whom, the reading, the limit, the setting
 * and what would permit it. They stay in the list of events as well.
 */
import type { Problem, RefusalShown } from './contract.js';
import { button, byId, el, setHidden } from './dom.js';
import { UNREACHED } from './net.js';
import { figure } from './words.js';

/** More than this at once is read by nobody; the oldest goes, and stays in the list of events. */
const SHOWN = 4;

const row = (name: string, text: string, wide = false): HTMLElement =>
  el('div', wide ? { class: 'wide' } : {}, el('dt', {}, name), el('dd', {}, text));

export class RefusalView {
  readonly #box = byId('refusals');

  /** A refusal, once, by whichever way it came first: the answer to the order or the stream. */
  show(refusal: RefusalShown): void {
    const key = JSON.stringify([refusal.code, refusal.asked, refusal.by, refusal.text, refusal.reading]);
    if (this.#standing(key) !== undefined) return;
    const figures =
      refusal.reading === null && refusal.limit === null
        ? []
        : [
            row('Reading', figure(refusal.reading, refusal.unit)),
            row('Limit', figure(refusal.limit, refusal.unit)),
          ];
    this.#put(
      key,
      `Refused: ${refusal.asked}`,
      refusal.text,
      el(
        'dl',
        {},
        row('Asked by', refusal.by),
        ...figures,
        ...(refusal.setting === '' ? [] : [row('Set in the rig by', refusal.setting)]),
        ...(refusal.part === null ? [] : [row('Part', refusal.part)]),
        ...(refusal.code === null ? [] : [row('Code', refusal.code)]),
        row('What would permit it', refusal.remedy, true),
      ),
    );
  }

  /** Something that was not done for a reason of the page itself. */
  problem(asked: string, problem: Problem): void {
    if (problem.refusal !== undefined) this.show(problem.refusal);
    else {
      const title = problem === UNREACHED ? 'No answer' : 'Not done';
      this.#put(`${asked} ${problem.problem}`, `${title}: ${asked}`, problem.problem, null);
    }
  }

  /** The newest one goes. */
  dismiss(): boolean {
    const newest = this.#box.firstElementChild;
    if (newest === null) return false;
    newest.remove();
    setHidden(this.#box, this.#box.childElementCount === 0);
    return true;
  }

  #standing(key: string): Element | undefined {
    return [...this.#box.children].find((c) => c.getAttribute('data-refusal') === key);
  }

  #put(key: string, title: string, text: string, more: HTMLElement | null): void {
    this.#standing(key)?.remove();
    const card = el(
      'article',
      { class: 'refusal', 'data-refusal': key },
      el('h2', {}, el('span', { class: 'shape', 'aria-hidden': 'true' }, '⊘ '), title),
      el('p', {}, text),
      more,
    );
    card.append(
      button('Dismiss', () => {
        card.remove();
        setHidden(this.#box, this.#box.childElementCount === 0);
      }),
    );
    setHidden(this.#box, false);
    this.#box.prepend(card);
    while (this.#box.childElementCount > SHOWN) this.#box.lastElementChild?.remove();
  }
}
