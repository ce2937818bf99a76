/** What every page for paper has: the document around it, its caution, its list of facts, its images. */
import { escaped, Html, html } from './html.js';
import { STYLE } from './style.js';

/** A page that may neither run nor load anything, should something ever slip through. */
const POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/** @param style of this kind of page, behind the common one; never made of texts from outside */
export function documentOf(title: string, body: Html, style = ''): string {
  return `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escaped(title)}</title>
<style>${STYLE}${style}</style>
</head>
<body>
${body.markup}</body>
</html>
`;
}

/** @param notice the caution everybody meets @param own what this kind of page adds */
export const caution = (notice: readonly string[], own: string): Html =>
  html`<aside class="caution" aria-label="Caution">${notice.map((line, i) => html`<p>${i === 0 ? html`<strong>${line}</strong>` : line}</p>`)}<p>${own}</p></aside>
`;

export type Row = readonly [name: string, text: string | Html | readonly Html[]];

export const facts = (list: readonly Row[]): Html =>
  html`<dl class="facts">
${list.map(([name, text]) => html`<div><dt>${name}</dt><dd>${text as Html}</dd></div>\n`)}</dl>
`;

/** As an image with words of its own; inside HTML an SVG needs no names of namespaces. */
export const image = (svg: string, alt: string): Html =>
  new Html(
    svg.replace(/^<svg [^>]*?(viewBox="[^"]*")[^>]*>/, `<svg $1 role="img" aria-label="${escaped(alt)}">`),
  );
