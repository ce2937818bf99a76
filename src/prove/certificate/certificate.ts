/**
 * The certificate of a proof: a single HTML text that works without network and without script, prints on A4, and can
 * be read in black and white. Pure: it takes a proof on its day and gives a text.
 */
import { createHash } from 'node:crypto';
import { type Html, html } from '../../paper/html.js';
import { caution, documentOf } from '../../paper/page.js';
import { isSimulated } from '../calibration.js';
import { proofText } from '../proof.js';
import { firstPage, titleOf } from './first-page.js';
import type { CertificateInput } from './input.js';
import { procedureSection } from './procedures.js';
import { records } from './records.js';
import { CERTIFICATE_STYLE, footOf } from './style.js';

/** So many digits of the hash tell papers apart; the whole stands at the end. */
const NUMBER_DIGITS = 12;

export async function certificateOf(input: CertificateInput): Promise<string> {
  const { proof, notice } = input;
  const hash = createHash('sha256').update(proofText(proof)).digest('hex');
  const number = hash.slice(0, NUMBER_DIGITS);
  const simulated = isSimulated(proof.header);
  const sections: Html[] = [];
  for (const [i, procedure] of proof.procedures.entries())
    sections.push(await procedureSection(procedure, i + 1));
  const title = `${titleOf(proof)}${simulated ? ' (SIMULATED)' : ''}`;
  const body = html`<main>
${firstPage(input, number)}<section class="page" id="results">
<h2>Results</h2>
<p class="legend">${LEGEND}</p>
${sections}</section>
${records(proof)}</main>
<footer class="end">
${caution(notice, 'This paper is no proof that anything is dead: measure before you touch.')}<p>Made by ${proof.header.software}. The number of this paper is the beginning of the SHA-256 of <code>proof.json</code> beside it: <code class="hash">${hash}</code></p>
</footer>
`;
  return documentOf(title, body, CERTIFICATE_STYLE + footOf(number, proof.verdict === 'pass', simulated));
}

const LEGEND =
  'Every figure is from the charger’s own devices, on the clock of the one that times the events. “unc.” is what the ' +
  'uncertainty of the measuring adds on the side of the limit; “worst” is the figure nearest to its limit or beyond it, ' +
  'with its own uncertainty counted against the charger. A limit that lies within the uncertainty is inconclusive, and ' +
  'counts as not passed. Median and 95 % (95th percentile) are values that were measured (nearest rank). In the plots dots ' +
  'are readings of the meter; the lines between them nobody measured. Marks are timed by the device, but those of the ' +
  'supervisor (found, trip, ramp-down, plug freed) by the supervisor. In strips each tick is a run, a thick line a limit, ' +
  'the open circle the worst.';
