/** The chain of proofs as a list, one row a proof, and what is missing before the next step. */
import { chain, whatIsMissing } from './chain.js';
import type { About, Snapshot } from './contract.js';
import { byId, el, replaceWhen, setAttribute, setHidden, setText } from './dom.js';

interface Row {
  readonly item: HTMLElement;
  readonly shape: HTMLElement;
  readonly word: HTMLElement;
  readonly age: HTMLElement;
  readonly figures: HTMLElement;
}

export class ChainView {
  readonly #about: About;
  readonly #rows: Row[] = [];

  constructor(about: About) {
    this.#about = about;
    const list = byId('chain-list');
    list.replaceChildren();
    for (const { text } of about.chain) {
      const shape = el('span', { class: 'shape', 'aria-hidden': 'true' });
      const word = el('span', { class: 'word' });
      const age = el('span', { class: 'age' });
      const figures = el('ul', { class: 'figures' });
      const item = el('li', {}, shape, el('span', { class: 'what' }, text), word, age, figures);
      this.#rows.push({ item, shape, word, age, figures });
      list.append(item);
    }
  }

  draw(snapshot: Snapshot): void {
    chain(this.#about, snapshot).forEach((link, i) => {
      const row = this.#rows[i];
      if (row === undefined) return;
      setAttribute(row.item, 'data-state', link.state);
      setText(row.shape, link.shape);
      setText(row.word, link.word);
      setText(row.age, link.age);
      const key = link.figures.map((f) => `${f.failing ? '!' : ''}${f.text}`).join('\n');
      setHidden(row.figures, link.figures.length === 0);
      replaceWhen(row.figures, key, () =>
        link.figures.map((f) =>
          el('li', f.failing ? { class: 'failing' } : {}, f.failing ? `✕ ${f.text}` : f.text),
        ),
      );
    });
    const missing = whatIsMissing(this.#about, snapshot);
    setText(byId('missing-headline'), missing.headline);
    const items = byId('missing-items');
    setHidden(items, missing.items.length === 0);
    replaceWhen(items, JSON.stringify(missing.items), () =>
      missing.items.map(({ text, remedy }) =>
        el('li', {}, `✕ ${text}`, remedy === '' ? null : el('span', { class: 'remedy' }, ` → ${remedy}`)),
      ),
    );
  }
}
