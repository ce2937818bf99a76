/** What the protection of a journal proves, and what not: the table of src/journal/FORMAT.md, which a test compares. */
import type { AuditResult } from '../audit/audit.js';
import { type Html, html } from '../paper/html.js';
import { seconds, signatureSentence } from './words.js';

export interface Level {
  readonly name: string;
  readonly shows: string;
  readonly doesNotShow: string;
}

export const LEVELS = {
  bare: {
    name: 'bare lines (after the last seal)',
    shows: 'gaps in the numbering, lines cut short',
    doesNotShow:
      'that anything is as it was written: anybody can change them; with the end of the session among them the record ' +
      'counts as not intact',
  },
  sealed: {
    name: 'sealed',
    shows: 'damage by accident anywhere; a change by somebody who does not make the seals anew',
    doesNotShow:
      'a change by somebody who does. What is changed must still be decided the same by a replay and keep the ' +
      'invariants, which a changed order or state does not; a changed reading may',
  },
  signed: {
    name: 'signed (run --sign, audited with --key)',
    shows: 'any change, addition, removal or exchange by anybody without the private key',
    doesNotShow:
      'a tail cut off at a seal; a change by whoever has the key. A key on the supervising machine is no better ' +
      'kept than that machine',
  },
  head: {
    name: 'head kept elsewhere (run --head-file, or the last seal as printed)',
    shows: 'a tail cut off; with the last seal of the file, any change before it, signed or not',
    doesNotShow: 'what was changed before the head was noted',
  },
} as const satisfies Record<string, Level>;

export const NEVER_SHOWN =
  'Nothing here shows that a reading was true when it was received: the devices are not authenticated by the line ' +
  'protocol.';

type Name = keyof typeof LEVELS;

/** Which levels this journal has, as far as this audit could tell. */
function presence(a: AuditResult): Readonly<Record<Name, string>> {
  const signed: Record<AuditResult['signed'], string> = {
    no: 'no',
    'not-checked': 'claimed, NOT checked',
    valid: 'yes, checked',
    invalid: 'NO: not of the key given',
  };
  return {
    bare: a.unsealedBytes > 0 ? `yes: the last ${a.unsealedBytes} bytes` : 'no: every line is under a seal',
    sealed: a.seals === 0 ? 'no' : a.intact ? `yes: ${a.seals} seals` : `${a.seals} seals; NOT INTACT`,
    signed: signed[a.signed],
    head: a.headMet === null ? 'not given to this audit' : a.headMet ? 'yes, met' : 'given, NOT met',
  };
}

export function integrity(a: AuditResult): Html {
  const present = presence(a);
  const steps =
    a.clockSteps.length === 0
      ? html``
      : html`<p>The wall clock was set during the session: ${a.clockSteps.map(({ atMs, byMs }) => `by ${(byMs / 1000).toFixed(3)} s before ${seconds(atMs)}`).join('; ')}. Times in this report are monotonic and do not follow it.</p>
`;
  return html`<section id="integrity">
<h2>What this record proves</h2>
<p>Signature: ${signatureSentence(a)}. Head (the last seal): <code class="hash">${a.head}</code></p>
<div class="wide"><table>
<caption>Levels of protection: which this journal has, and what each shows and does not show</caption>
<colgroup><col style="width:22%"><col style="width:18%"><col style="width:28%"><col style="width:32%"></colgroup>
<thead><tr><th scope="col">level</th><th scope="col">here</th><th scope="col">shows</th><th scope="col">does not show</th></tr></thead>
<tbody>
${(Object.keys(LEVELS) as Name[]).map((name) => html`<tr><th scope="row">${LEVELS[name].name}</th><td>${present[name]}</td><td>${LEVELS[name].shows}</td><td>${LEVELS[name].doesNotShow}</td></tr>\n`)}</tbody>
</table></div>
<p>${NEVER_SHOWN}</p>
${steps}</section>
`;
}
