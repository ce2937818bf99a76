/** The first page: what was proven, of what, by what, on which day; what stands against it; who answers for it. */
import { dayText } from '../../host/calendar.js';
import { type Html, html } from '../../paper/html.js';
import { caution, facts, type Row } from '../../paper/page.js';
import type { Rig } from '../../rig/schema.js';
import { type DatedEquipment, type DatedProof, isSimulated } from '../calibration.js';
import { WEAKNESSES } from '../charger.js';
import { VERDICT_TEXT, VERDICTS, type Verdict } from '../verdict.js';
import type { CertificateInput } from './input.js';
import { says, shape } from './shapes.js';
import { times } from './words.js';

const MOST_STEPS_TOLD = 6;

const SUBTITLE = 'Protections of a charger, each made to trip, with measured times';

/** What did not pass is not called a certificate. */
export const titleOf = ({ verdict, header }: DatedProof): string =>
  verdict === 'pass'
    ? `Certificate of proof: ${header.rig}`
    : `No certificate: ${header.rig}, proof not passed`;

export function firstPage(input: CertificateInput, number: string): Html {
  const { proof, notice } = input;
  return html`<section class="first" aria-label="Summary" id="summary">
<header>
<div class="head"><div><h1>${titleOf(proof)}</h1><p>${SUBTITLE}. ${proof.title}</p></div><p class="number">no. <code>${number}</code><br>${dayText(proof.madeOn)} (UTC)</p></div>
${simulatedBanner(proof)}${verdictBoxes(proof)}${doubtList(proof)}${caution(notice, 'This paper is no proof that anything is dead now: measure before you touch.')}</header>
${equipment(input)}${identity(input)}${procedureList(proof)}${signatures(proof)}<h2>What this does not certify</h2>
<ul class="not">${NOT_CERTIFIED.map((line) => html`<li>${line}</li>`)}</ul>
</section>
`;
}

function simulatedBanner({ header }: DatedProof): Html {
  if (!isSimulated(header)) return html``;
  const weakness = WEAKNESSES[header.charger];
  const how =
    weakness === undefined
      ? 'The charger under proof was a simulation, built to the figures of the rig.'
      : `The charger under proof was a simulation with a weakness made on purpose, ${header.charger}: ${weakness.text}.`;
  return html`<div class="simulated"><strong>SIMULATED</strong><span>${how} Nothing is certified of any real charger: this shows the procedures at work, no more.</span></div>
`;
}

export const WORDS: Readonly<Record<Verdict, string>> = {
  pass: 'PASSED',
  fail: 'FAILED',
  inconclusive: 'INCONCLUSIVE',
  'not-applicable': 'NOTHING APPLIED',
};

const EXPLAINED: Readonly<Record<Verdict, string>> = {
  pass: 'every step that applies held every limit, uncertainty counted against it',
  fail: 'at least one protection did not do what it must',
  inconclusive: 'NOT PASSED: it is not shown that all protections hold',
  'not-applicable': 'NOT PASSED: no step applies to this rig',
};

function verdictBoxes(proof: DatedProof): Html {
  const { verdict } = proof;
  const steps = proof.procedures.flatMap((p) => p.steps);
  const counts = VERDICTS.map((v) => ({ v, n: steps.filter((s) => s.verdict === v).length }));
  return html`<div class="verdicts">
<p class="verdict ${verdict === 'pass' ? 'good' : 'bad'}"><span>The proof as a whole</span><strong>${shape(verdict)} ${WORDS[verdict]}</strong><span>${isSimulated(proof.header) ? 'in simulation: ' : ''}${EXPLAINED[verdict]}</span></p>
<div class="verdict good"><span>${times(steps.length, 'step')} of ${times(proof.procedures.length, 'procedure')}</span><div class="counts">${counts.map(({ v, n }) => html`<span>${shape(v)} <b>${n}</b> ${VERDICT_TEXT[v].toLowerCase()}</span> `)}</div></div>
</div>
`;
}

/** What keeps the whole from having passed: of the whole, then of single steps. */
function doubtList({ doubts, procedures }: DatedProof): Html {
  const steps = procedures.flatMap((p, i) =>
    p.steps.flatMap(({ verdict, title }, k) =>
      verdict === 'fail' || verdict === 'inconclusive' ? [{ no: `${i + 1}.${k + 1}`, title, verdict }] : [],
    ),
  );
  // What failed comes first.
  const told = [...steps.filter((s) => s.verdict === 'fail'), ...steps.filter((s) => s.verdict !== 'fail')];
  if (doubts.length + told.length === 0) return html``;
  const more = told.length - MOST_STEPS_TOLD;
  return html`<ul class="doubts">${doubts.map((d) => html`<li>${d}</li>\n`)}${told
    .slice(0, MOST_STEPS_TOLD)
    .map(
      ({ no, title, verdict }) =>
        html`<li>${VERDICT_TEXT[verdict]}: <a href="#step-${no}">${no} ${title}</a></li>\n`,
    )}${more > 0 ? html`<li>and ${times(more, 'step')} more</li>` : ''}</ul>
`;
}

const CALIBRATION: Readonly<Record<DatedEquipment['calibration'], string>> = {
  'in-date': 'in date',
  expired: 'EXPIRED',
  'in-the-future': 'IN THE FUTURE',
  impossible: 'NO SUCH DAY',
};

function calibrationText(e: DatedEquipment, simulated: boolean): Html {
  if (e.calibration === 'in-date') return html`${dayText(e.calibratedOn)}, in date`;
  const harmless = simulated && e.calibration === 'in-the-future';
  return html`${dayText(e.calibratedOn)} <strong>${CALIBRATION[e.calibration]}</strong>${harmless ? ' (simulated: harmless)' : ''}`;
}

function equipment({ proof, loaded }: CertificateInput): Html {
  const simulated = isSimulated(proof.header);
  const rows = proof.equipment.map(
    (e) =>
      html`<tr><td>${portName(loaded.rig, e.port)}</td><td>${e.model}</td><td>${e.serial}</td><td>${e.firmware}</td><td>${calibrationText(e, simulated)}</td><td class="right">${e.runs}</td></tr>\n`,
  );
  const none = html`<tr><td colspan="6"><strong>No device told who it is: it is not known what was proven.</strong></td></tr>\n`;
  return html`<table class="equipment">
<caption>Equipment, as each device told of itself; a calibration counts for ${times(proof.calibrationMonths, 'month')}</caption>
<colgroup><col style="width:14%"><col style="width:18%"><col style="width:16%"><col style="width:14%"><col style="width:30%"><col style="width:8%"></colgroup>
<thead><tr><th scope="col">port</th><th scope="col">model</th><th scope="col">serial</th><th scope="col">firmware</th><th scope="col">calibrated on</th><th scope="col" class="right">runs</th></tr></thead>
<tbody>
${rows.length > 0 ? rows : none}</tbody>
</table>
`;
}

const portName = ({ link }: Rig, port: number): string => link.ports[port]?.name ?? `no. ${port + 1}`;

function identity({ proof, loaded }: CertificateInput): Html {
  const { header } = proof;
  const { rig } = loaded;
  const { connection, converter } = rig;
  const often =
    header.repeat === null
      ? 'each step as often as its procedure says'
      : `each step ${header.repeat === 1 ? 'once' : `${header.repeat} times`}, as was asked for, whatever its procedure says`;
  const seed = isSimulated(header) ? `; seed ${header.seed}` : '';
  const rows: Row[] = [
    ...(isSimulated(header) ? [] : ([['charger', `at ${header.charger}`]] satisfies Row[])),
    [
      'rig',
      html`${header.rig}, by ${connection.kind}, rated ${connection.ratedCurrentA} A, up to ${converter.maxVoltageV} V; SHA-256 of its figures <code class="hash">${header.rigHash}</code>`,
    ],
    ['runs', `${header.cases - proof.missing} of ${header.cases}, by ${header.software}; ${often}${seed}`],
  ];
  return facts(rows);
}

function procedureList({ procedures }: DatedProof): Html {
  const rows = procedures.map(
    ({ name, hash, steps, verdict }, i) =>
      html`<tr><td><a href="#procedure-${i + 1}">${name}</a></td><td>${says(verdict)}</td><td class="right">${steps.length}</td><td class="code hash">${hash}</td></tr>\n`,
  );
  return html`<table>
<caption>Procedures, with the SHA-256 of what each says</caption>
<colgroup><col style="width:19%"><col style="width:17%"><col style="width:7%"><col style="width:57%"></colgroup>
<thead><tr><th scope="col">procedure</th><th scope="col">verdict</th><th scope="col" class="right">steps</th><th scope="col">SHA-256</th></tr></thead>
<tbody>
${rows}</tbody>
</table>
`;
}

const ROLES: readonly (readonly [role: string, answersFor: string])[] = [
  ['Tester', 'made the runs as the procedures say'],
  ['Competent person', 'confirmed the limits and this result'],
  ['Witness', 'was present'],
];

function signatures(proof: DatedProof): Html {
  const rows = ROLES.map(
    ([role, what]) =>
      html`<tr><td><strong>${role}</strong><br>${what}</td><td></td><td></td><td></td></tr>\n`,
  );
  const void_ = isSimulated(proof.header)
    ? ' Of a simulated charger there is nothing to answer for beyond that these runs were made.'
    : '';
  return html`<table class="sign">
<caption>Responsible persons. Without their names and signatures this is a print-out, not a certificate.${void_}</caption>
<colgroup><col style="width:31%"><col style="width:27%"><col style="width:14%"><col style="width:28%"></colgroup>
<thead><tr><th scope="col">answers for</th><th scope="col">name</th><th scope="col">date</th><th scope="col">signature</th></tr></thead>
<tbody>
${rows}</tbody>
</table>
`;
}

export const NOT_CERTIFIED = [
  'It is not the certification of a safety function, and loopwarden is none: hard-wired protection acts on its own.',
  'Not the life, the wiring, the ratings or the further course of the hard-wired protection: it acted in these runs, no more is shown.',
  'Not any other rig, setting, firmware, device or wiring than those named: after a change of any of them the proof is to be made anew.',
  'Not protections and faults that no procedure named here is about, nor the procedures themselves.',
  'Not the train, its packs, its contactors or its management.',
  'Not the limits: they stand with their sources, and a competent person must have confirmed each.',
  'Not the accuracy of the instruments beyond what is counted as their uncertainty and the day of their calibration.',
  'Not the authenticity of what the devices said, nor of this file: journals and hashes show change by accident.',
  'Local codes and licensed electrical practice govern, whatever stands here.',
] as const;
