/** Small hands for elements: made, written only where something changed, found by id. */

export type Child = Node | string | null;
type Attributes = Readonly<Record<string, string | number | boolean | null>>;

function fill(element: Element, attributes: Attributes, children: readonly Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === false) continue;
    element.setAttribute(name, value === true ? '' : String(value));
  }
  for (const child of children) if (child !== null) element.append(child);
}

export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  fill(element, attributes, children);
  return element;
}

export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (found === null) throw new Error(`the page has no #${id}`);
  return found as T;
}

/** Writing what is there already would make a reader say it again. */
export function setText(node: Node, text: string): void {
  if (node.textContent !== text) node.textContent = text;
}

export function setAttribute(element: Element, name: string, value: string): void {
  if (element.getAttribute(name) !== value) element.setAttribute(name, value);
}

export function setHidden(element: HTMLElement, hidden: boolean): void {
  if (element.hidden !== hidden) element.hidden = hidden;
}

/** Puts in new children only when `key` differs from the last time. */
export function replaceWhen(element: Element, key: string, children: () => Child[]): void {
  if (element.getAttribute('data-key') === key) return;
  element.setAttribute('data-key', key);
  element.replaceChildren(...children().filter((c) => c !== null));
}

export function button(text: string, act: () => void, attributes: Attributes = {}): HTMLButtonElement {
  const made = el('button', { type: 'button', ...attributes }, text);
  made.addEventListener('click', act);
  return made;
}

/** A labelled input; the label stands before it. */
export function labelled(text: string, input: HTMLElement, unit = ''): HTMLLabelElement {
  return el(
    'label',
    { class: 'field' },
    el('span', {}, text),
    input,
    unit === '' ? null : el('span', { class: 'unit' }, unit),
  );
}

export const numberInput = (attributes: Attributes = {}): HTMLInputElement =>
  el('input', { type: 'number', inputmode: 'decimal', step: 'any', ...attributes });

/** null where it is empty or no number. */
export const numberOf = (input: HTMLInputElement): number | null =>
  input.value.trim() === '' || !Number.isFinite(input.valueAsNumber) ? null : input.valueAsNumber;
