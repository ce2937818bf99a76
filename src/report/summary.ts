/** The first page: what a reader must know who reads no further. */

import { tellBreach } from '../audit/judge.js';
import { DONE_TEXT } from '../audit/order-done.js';
import { brokenOnRecord, NO_END, observedText } from '../audit/verdict.js';
import { figure } from '../host/words.js';
import { RECOVERY } from '../journal/recovery.js';
import { type Html, html } from '../paper/html.js';
import { caution as cautionOf, facts as factList, type Row } from '../paper/page.js';
import { EXIT_TEXT, exitCodeOf } from '../supervisor/outcome.js';
import type { ReportInput } from './input.js';
import { margins } from './tables.js';
import { firstOutSentence, inUnit, partOf, seconds, signatureSentence, verdictOf, when } from './words.js';

const MOST_BREACHES = 5;
const MOST_DAMAGE = 6;
const MOST_REFUSED = 3;
const MOST_COURSE = 16;
const NEAREST = 6;

export const caution = (notice: readonly string[]): Html =>
  cautionOf(
    notice,
    'A journal shows what the supervisor read, decided and ordered. It is no proof that anything is dead: measure before you touch.',
  );

/** Two verdicts stand side by side: on the record, and on the session it tells of. */
export function verdict({ exit, audit }: ReportInput): Html {
  return html`<div class="verdicts">
<p class="verdict ${exit === 0 ? 'good' : 'bad'}"><span>The record and its decisions</span><strong>${verdictOf(exit, audit)}</strong><span>exit ${exit} of the audit</span></p>
${ending(audit)}</div>
`;
}

function ending({ outcome, carriedOut }: ReportInput['audit']): Html {
  if (carriedOut !== null)
    return html`<p class="verdict good"><span>The order</span><strong>CARRIED OUT</strong><span>${DONE_TEXT[carriedOut.order]}</span></p>
`;
  if (outcome === null)
    return html`<p class="verdict bad"><span>The session</span><strong>NO END RECORDED</strong><span>treat the rig as latched</span></p>
`;
  const exit = exitCodeOf(outcome);
  const words =
    exit === 9
      ? 'TRIPPED, NOT PROVEN DEAD'
      : exit === 3
        ? 'TRIPPED, PROVEN SAFE'
        : outcome.outcome.toUpperCase();
  return html`<p class="verdict ${exit === 0 ? 'good' : 'bad'}"><span>The session</span><strong>${words}</strong><span>exit ${exit}: ${EXIT_TEXT[exit] ?? ''}</span></p>
`;
}

export function facts(input: ReportInput): Html {
  const { audit, file } = input;
  const { header } = audit;
  const session: Row[] =
    header === null
      ? [['session', 'no header could be read: which session this was is not known']]
      : [
          [
            'rig',
            html`${header.rig}${input.collected.rig?.title ? html`: ${input.collected.rig.title}` : ''}`,
          ],
          [
            'session',
            html`asked for by ${header.by}, nonce <code>${header.nonce}</code>, written by ${header.software}`,
          ],
          [
            'when',
            header.clock === 'virtual'
              ? 'in virtual time: a rehearsal on the simulated bench'
              : `begun ${when(header.wallMs)} (UTC) by the wall clock of the supervising machine`,
          ],
        ];
  return factList([
    ['journal', html`<code>${file}</code>`],
    ...session,
    ['record', record(audit)],
    ['signature', signatureSentence(audit)],
    ['decisions', decisions(audit)],
    ['invariants', invariants(audit)],
    ['first out', html`<strong>${firstOutSentence(audit.firstOut)}</strong>`],
    ...(audit.refusals.length > 0 ? ([['refused', refused(audit)]] satisfies Row[]) : []),
    ['ended', ended(audit)],
    ...(audit.planned === null ? [] : ([['plan', planned(audit.planned)]] satisfies Row[])),
    ['course', course(input)],
    ['energy', energy(audit)],
  ]);
}

/** On the first page only where there are any. */
export const nearest = ({ audit }: ReportInput): Html =>
  audit.margins.length === 0 ? html`` : margins(audit, NEAREST);

function refused({ refusals }: ReportInput['audit']): Html {
  const more = refusals.length - MOST_REFUSED;
  const told = refusals.slice(0, MOST_REFUSED).map(({ asked, by, code, part, text, remedy }) => {
    return html`<li>${asked} by ${by}: <strong>${code}${partOf(part)}</strong>, ${text}. To permit it: ${remedy}</li>`;
  });
  return html`<ul>${told}${more > 0 ? html`<li>and ${more} more</li>` : ''}</ul>`;
}

function course({ collected: { phases } }: ReportInput): string {
  const told = phases.map(({ name, fromMs, toMs }) => `${name} ${seconds(toMs - fromMs)}`);
  const cut = told.length - MOST_COURSE;
  const middle = cut > 0 ? [`… ${cut} more …`] : [];
  const from = cut > 0 ? told.length - MOST_COURSE / 2 : told.length;
  return [...told.slice(0, cut > 0 ? MOST_COURSE / 2 : told.length), ...middle, ...told.slice(from)].join(
    ', ',
  );
}

function record(a: ReportInput['audit']): Html {
  const { what, todo } = RECOVERY[a.row];
  const more = a.damage.length - MOST_DAMAGE;
  const unsealed =
    a.unsealedBytes > 0
      ? html` ${a.unsealedBytes} bytes after the last seal are unprotected: anybody can have changed them.`
      : html``;
  const damage =
    a.damage.length === 0
      ? html``
      : html`<ul class="damage">${a.damage.slice(0, MOST_DAMAGE).map((words) => html`<li>${words}</li>`)}${more > 0 ? html`<li>and ${more} more</li>` : ''}</ul>`;
  return html`${a.intact ? 'intact' : html`<strong>NOT INTACT</strong>`}, ${a.row}: ${what}; ${a.records} records under ${a.seals} seals.${unsealed}${todo === 'nothing' ? '' : ` To do: ${todo}.`}${damage}`;
}

function decisions(audit: ReportInput['audit']): Html {
  const { observing } = audit;
  return html`${decided(audit)}${observing === null ? '' : html`; <strong>${observedText(observing)}</strong>`}`;
}

/** What was planned beside what came; what lies outside the plan's own margins stands out. */
function planned(list: NonNullable<ReportInput['audit']['planned']>): Html {
  const told = list.map((p) => {
    const text = `${p.name} ${figure(p.planned)} (${figure(p.low)} to ${figure(p.high)}), came ${figure(p.got)}`;
    return p.within ? html`<li>${text}</li>` : html`<li><strong>${text}: outside</strong></li>`;
  });
  return html`<ul>${told}</ul>`;
}

function decided({ divergence, notReplayed, diverged }: ReportInput['audit']): Html {
  if (divergence !== null)
    return html`<strong>diverge at record ${divergence.n} (${seconds(divergence.atMs)})</strong>${notReplayed === null ? '' : `, but ${notReplayed}: audit it with that version`}`;
  if (notReplayed !== null) return html`<strong>not all could be decided anew: ${notReplayed}</strong>`;
  if (diverged === null) return html`nothing to decide: the record holds no input`;
  return html`decided anew from the recorded inputs: every transition, order and refusal came out the same`;
}

function invariants(audit: ReportInput['audit']): Html {
  const { invariantsBroken, breaches } = audit;
  if (invariantsBroken.length === 0) return html`I1 to I12 hold on the record`;
  if (brokenOnRecord(audit).length === 0)
    return html`the others hold on the record; <strong>${NO_END}</strong>`;
  const more = breaches.length - MOST_BREACHES;
  return html`<strong>${invariantsBroken.join(', ')} broken</strong><ul>${breaches.slice(0, MOST_BREACHES).map((b) => html`<li>${tellBreach(b)}</li>`)}${more > 0 ? html`<li>and ${more} more</li>` : ''}</ul>`;
}

function ended({ outcome, carriedOut }: ReportInput['audit']): Html {
  if (carriedOut !== null) return html`${DONE_TEXT[carriedOut.order]}, asked for by ${carriedOut.by}`;
  if (outcome === null) return html`<strong>the record holds no end of the session</strong>`;
  const { endState, durationS, peakCurrentA, residualVoltageAtReleaseV: residualV } = outcome;
  const not = (proven: boolean): string => (proven ? '' : 'NOT ');
  return html`${outcome.outcome}, ${outcome.endReason}, after ${figure(durationS)} s; ${not(endState.provenDead)}proven dead, poles ${not(endState.polesProvenOpen)}proven open, output ${not(endState.outputDead)}proven dead, plug ${not(endState.plugDead)}proven dead, plug ${endState.plugLocked ? 'locked' : 'not locked'}${residualV === null ? '' : `, ${inUnit(residualV, 'V')} left at release`}; highest current ${inUnit(peakCurrentA, 'A')}`;
}

function energy({ energy: e }: ReportInput['audit']): Html {
  if (e === null) return html`not known: the record holds no rig`;
  const { converter, cableAndContacts, train } = e.lossesKwh;
  return html`${figure(e.toBatteryKwh)} kWh to the battery, integrated anew from its own lines (the session told ${figure(e.toldKwh)}); ${figure(e.fromSupplyKwh)} kWh from the supply; lost in the converter ${figure(converter, 3)}, in cable and contacts ${figure(cableAndContacts, 3)}, on the train ${figure(train, 3)} kWh`;
}
