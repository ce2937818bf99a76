/** HTML from text that is not to be trusted: whatever a journal says is text, never markup. */

/** Markup of ours, as opposed to text. */
export class Html {
  constructor(readonly markup: string) {}
}

type Part = Html | readonly Html[] | string | number | null;

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};
/** Control characters, and those that turn the direction of what follows: a name could make a line read otherwise. */
const UNSEEN = /(?![\t\n])[\p{Cc}\p{Cs}\p{Bidi_Control}\ufeff]/gu;

export const plain = (text: string): string => text.replace(UNSEEN, '�');
export const escaped = (text: string): string =>
  plain(text).replace(/[&<>"']/g, (c) => ENTITIES[c] as string);

const markupOf = (part: Part): string => {
  if (part instanceof Html) return part.markup;
  if (Array.isArray(part)) return part.map(markupOf).join('');
  // A damaged record may hold anything where a text is expected.
  return part === null ? '' : escaped(String(part));
};

/** Texts and figures put in are escaped, `Html` is not. */
export function html(strings: TemplateStringsArray, ...parts: readonly Part[]): Html {
  return new Html(strings.reduce((out, text, i) => out + markupOf(parts[i - 1] ?? null) + text));
}

export interface Column {
  readonly head: string;
  /** Share of the width, %: columns of fixed width keep a table on its page whatever a journal holds. */
  readonly width: number;
  /** Figures stand to the right. */
  readonly right?: true;
  /** Names in a fixed width, broken anywhere. */
  readonly code?: true;
}

export interface Cut {
  /** Rows shown. */
  readonly most: number;
  /** So many of them from the beginning, the others from the end. */
  readonly first?: number;
  /** Left out before they came here. */
  readonly leftOut?: number;
  /** Where the rest is found. */
  readonly elsewhere?: string;
}

/**
 * A table with a caption; of more rows than `most` the middle is left out, because a session's beginning and end say
 * most, unless `first` asks for the first alone. What is left out is counted.
 */
export function table(
  caption: string,
  columns: readonly Column[],
  rows: readonly (readonly (string | Html)[])[],
  { most, first = most, leftOut = 0, elsewhere = 'loopwarden audit --json' }: Cut,
): Html {
  const cut = rows.length > most;
  const head = cut ? rows.slice(0, first) : rows;
  const tail = cut ? rows.slice(rows.length - (most - first)) : [];
  const missing = (cut ? rows.length - most : 0) + leftOut;
  const classOf = ({ right, code }: Column): Html =>
    right ? html` class="right"` : code ? html` class="code"` : html``;
  const line = (row: readonly (string | Html)[]): Html =>
    html`<tr>${columns.map((c, i) => html`<td${classOf(c)}>${row[i] ?? ''}</td>`)}</tr>\n`;
  const gap =
    missing > 0
      ? html`<tr><td class="more" colspan="${columns.length}">… ${missing} more ${missing === 1 ? 'is' : 'are'} not shown here; see ${elsewhere}</td></tr>\n`
      : html``;
  const widths = columns.map(({ width }) => html`<col style="width:${width}%">`);
  return html`<table>
<caption>${caption}</caption>
<colgroup>${widths}</colgroup>
<thead><tr>${columns.map((c) => html`<th scope="col"${classOf(c)}>${c.head}</th>`)}</tr></thead>
<tbody>
${head.map(line)}${gap}${tail.map(line)}</tbody>
</table>
`;
}
