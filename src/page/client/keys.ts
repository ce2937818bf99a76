/** Shortcuts: single keys, not while somebody writes, and with a switch, since they can be struck by mistake. */
import { byId, el } from './dom.js';

export interface Shortcut {
  readonly key: string;
  readonly words: string;
  act(): void;
}

const WRITING = 'input:not([type=checkbox]), select, textarea';

export function wireKeys(shortcuts: readonly Shortcut[]): void {
  const help = byId<HTMLDialogElement>('help');
  const on = byId<HTMLInputElement>('keys-on');
  byId('keys-list').replaceChildren(
    ...shortcuts.map((s) => el('div', {}, el('dt', {}, el('kbd', {}, s.key)), el('dd', {}, s.words))),
  );
  byId('help-open').addEventListener('click', () => help.showModal());
  byId('help-close').addEventListener('click', () => help.close());
  document.addEventListener('keydown', (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || help.open) return;
    if (e.target instanceof Element && e.target.matches(WRITING) && e.key !== 'Escape') return;
    if (!on.checked && e.key !== 'Escape') return;
    const shortcut = shortcuts.find((s) => s.key === e.key || (s.key === 'Esc' && e.key === 'Escape'));
    if (shortcut === undefined) return;
    e.preventDefault();
    shortcut.act();
  });
}

/** To a part of the page, and into the first thing of it that a key can act on. */
export function goTo(id: string): void {
  const part = byId(id);
  part.scrollIntoView({ block: 'nearest' });
  const first =
    part.querySelector<HTMLElement>('[tabindex="0"]') ??
    part.querySelector<HTMLElement>('button, input, select');
  (first ?? part).focus();
}
