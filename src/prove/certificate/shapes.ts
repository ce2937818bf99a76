/** Verdicts in words and in a shape of their own each, so that they are told without colour and on any printer. */
import { type Html, html } from '../../paper/html.js';
import { VERDICT_TEXT, type Verdict } from '../verdict.js';

const SHAPES: Readonly<Record<Verdict, Html>> = {
  pass: html`<circle cx="8" cy="8" r="6.9" fill="none" stroke="#000" stroke-width="1.4"/><path d="M4.4 8.4l2.6 2.7 4.8-6" fill="none" stroke="#000" stroke-width="1.8"/>`,
  fail: html`<rect x="0.6" y="0.6" width="14.8" height="14.8" fill="#000"/><path d="M4 4l8 8M12 4l-8 8" stroke="#fff" stroke-width="2.4"/>`,
  inconclusive: html`<path d="M8 0.9L15.4 15H0.6z" fill="none" stroke="#000" stroke-width="1.4" stroke-linejoin="round"/><path d="M8 5v5.2" stroke="#000" stroke-width="1.7"/><circle cx="8" cy="12.5" r="1.1"/>`,
  'not-applicable': html`<path d="M2 8h12" stroke="#000" stroke-width="1.6" stroke-dasharray="2.6 2"/>`,
};

/** The word stands beside it: who listens needs no shape. */
export const shape = (verdict: Verdict): Html =>
  html`<svg class="shape" viewBox="0 0 16 16" aria-hidden="true" data-verdict="${verdict}">${SHAPES[verdict]}</svg>`;

export function says(verdict: Verdict): Html {
  const word = VERDICT_TEXT[verdict];
  const stands = verdict === 'fail' || verdict === 'inconclusive';
  return html`<span class="says">${shape(verdict)} ${stands ? html`<strong>${word}</strong>` : word}</span>`;
}
