/** The tables of a report; long ones are cut, with a line that says how many rows more there are. */
import type { AuditResult } from '../audit/audit.js';
import { figure } from '../host/words.js';
import { type Html, html, table } from '../paper/html.js';
import type { Collected } from './collect.js';
import { decidedUpTo, inUnit, partOf, seconds } from './words.js';

const MOST_PHASES = 60;
const MOST_EVENTS = 240;
/** What a fault is at is the end of the sequence; how it began fits here. */
const FIRST_EVENTS = 60;
const MOST_MARGINS = 150;
const MOST_PROOFS = 80;
const MOST_REFUSALS = 60;
const MOST_EXTREMES = 160;
const MOST_GOVERNED = 40;
const FIGURES_SHOWN = 3;

export function phases({ phases: list }: Collected): Html {
  const rows = list.map(({ name, fromMs, toMs }, i) => [
    String(i + 1),
    name,
    seconds(fromMs),
    seconds(toMs),
    seconds(toMs - fromMs),
  ]);
  return table(
    'Phases, numbered as in the figures',
    [
      { head: 'no.', width: 8, right: true },
      { head: 'phase', width: 38 },
      { head: 'from', width: 18, right: true },
      { head: 'to', width: 18, right: true },
      { head: 'for', width: 18, right: true },
    ],
    rows,
    { most: MOST_PHASES, first: MOST_PHASES / 2, elsewhere: 'the journal' },
  );
}

export function governed({ governed: list, governedLeftOut }: Collected): Html {
  if (list.length === 0)
    return html`<p>No limit ever governed the current: it was never ramped up.</p>
`;
  return table(
    'Which limit governed the current, and its value as it began to',
    [
      { head: 'from', width: 18, right: true },
      { head: 'limit', width: 62 },
      { head: 'at first', width: 20, right: true },
    ],
    list.map(({ limit, currentA, atMs }) => [seconds(atMs), limit, inUnit(currentA, 'A')]),
    { most: MOST_GOVERNED, first: MOST_GOVERNED / 2, leftOut: governedLeftOut, elsewhere: 'the journal' },
  );
}

export function events({ events: list, eventsLeftOut }: AuditResult): Html {
  if (list.length === 0)
    return html`<p>The record tells of no event.</p>
`;
  return table(
    'Events, in the order of the record',
    [
      { head: 'at', width: 12, right: true },
      { head: 'record', width: 9, right: true },
      { head: 'what', width: 9 },
      { head: 'event', width: 70 },
    ],
    list.map(({ n, atMs, kind, text }) => [
      seconds(atMs),
      String(n),
      kind,
      kind === 'trip' || kind === 'end' ? html`<strong>${text}</strong>` : text,
    ]),
    { most: MOST_EVENTS, first: FIRST_EVENTS, leftOut: eventsLeftOut, elsewhere: 'the journal' },
  );
}

/** @param shown how many of them; the rest is counted */
export function margins(audit: AuditResult, shown = MOST_MARGINS): Html {
  const { margins: list } = audit;
  if (list.length === 0)
    return html`<p>No limit was ever near: the checks of a session under way never spoke, or could not be run anew.</p>
`;
  return table(
    `Nearest limits: how much was left of each, and when; negative where it was exceeded.${decidedUpTo(audit)}`,
    [
      { head: 'code', width: 20 },
      { head: 'left', width: 9, right: true },
      { head: 'read', width: 11, right: true },
      { head: 'limit', width: 11, right: true },
      { head: 'at', width: 10, right: true },
      { head: 'phase', width: 15 },
      { head: 'setting', width: 24, code: true },
    ],
    list.map(({ code, part, left, reading, limit, unit, setting, atMs, phase }) => [
      `${code}${partOf(part)}`,
      `${figure(100 * left, 2)} %`,
      inUnit(reading, unit),
      inUnit(limit, unit),
      seconds(atMs),
      phase,
      setting,
    ]),
    { most: shown, ...(shown === MOST_MARGINS ? {} : { elsewhere: 'the tables' }) },
  );
}

export function proofs(audit: AuditResult): Html {
  const { proofs: list } = audit;
  if (list.length === 0)
    return html`<p>Nothing was proven, or the checks could not be run anew.</p>
`;
  return table(
    `Proofs made, and on which figures.${decidedUpTo(audit)}`,
    [
      { head: 'proof', width: 16 },
      { head: 'at', width: 11, right: true },
      { head: 'phase', width: 16 },
      { head: 'on these figures', width: 57 },
    ],
    list.map(({ proof, atMs, phase, figures }) => [
      proof,
      seconds(atMs),
      phase,
      figures
        .slice(0, FIGURES_SHOWN)
        .map((f) => `${inUnit(f.reading, f.unit)} against ${inUnit(f.limit, f.unit)} [${f.setting}]`)
        .join('; ') + (figures.length > FIGURES_SHOWN ? `; ${figures.length - FIGURES_SHOWN} more` : ''),
    ]),
    { most: MOST_PROOFS, first: MOST_PROOFS / 2 },
  );
}

export function refusals({ refusals: list }: AuditResult): Html {
  if (list.length === 0)
    return html`<p>Nothing was refused.</p>
`;
  return table(
    'Refused, with what would permit it',
    [
      { head: 'asked', width: 18 },
      { head: 'at', width: 10, right: true },
      { head: 'code', width: 22 },
      { head: 'why, and what to do', width: 50 },
    ],
    list.map(({ asked, by, code, part, atS, text, remedy, reading, limit, unit, setting }) => [
      `${asked} by ${by}`,
      `${atS.toFixed(3)} s`,
      `${code}${partOf(part)}`,
      `${text}${reading === null ? '' : `: read ${inUnit(reading, unit)}, limit ${inUnit(limit, unit)} [${setting}]`}. To permit it: ${remedy}`,
    ]),
    { most: MOST_REFUSALS, first: MOST_REFUSALS / 2 },
  );
}

export function extremes({ extremes: list }: AuditResult): Html {
  if (list.length === 0)
    return html`<p>No device reported a figure.</p>
`;
  return table(
    'Least and greatest of every figure the devices reported',
    [
      { head: 'figure', width: 30, code: true },
      { head: 'least', width: 18, right: true },
      { head: 'at', width: 17, right: true },
      { head: 'greatest', width: 18, right: true },
      { head: 'at', width: 17, right: true },
    ],
    list.map(({ field, unit, least, leastAtMs, most, mostAtMs }) => [
      field,
      inUnit(least, unit, 5),
      seconds(leastAtMs),
      inUnit(most, unit, 5),
      seconds(mostAtMs),
    ]),
    { most: MOST_EXTREMES },
  );
}

const SHOWN_CHARS = 600;
const shorten = (line: string | null): string =>
  line === null ? '(nothing)' : line.length > SHOWN_CHARS ? `${line.slice(0, SHOWN_CHARS)}…` : line;

/** Empty while nothing diverges. */
export function divergence({ divergence: d }: AuditResult): Html {
  if (d === null) return html``;
  return html`<h3>Where the decisions part</h3>
<dl class="facts"><div><dt>written</dt><dd><code class="hash">${shorten(d.written)}</code></dd></div>
<div><dt>decided anew</dt><dd><code class="hash">${shorten(d.decided)}</code></dd></div></dl>
`;
}
