/** How a certificate looks beyond what all pages for paper share. Nothing is told by colour alone. */
export const CERTIFICATE_STYLE = `
.head { display: flex; gap: 4mm; align-items: flex-start; }
.head > div:first-child { flex: 1 1 0; min-width: 0; }
.number { flex: none; text-align: right; font-size: 8pt; }
.number code { font-size: 9pt; }
.simulated { border: 3px double #000; padding: 1.2mm 3mm; margin: 0 0 2.5mm; display: flex; gap: 4mm; align-items: center; }
.simulated strong { font-size: 21pt; letter-spacing: 0.14em; line-height: 1.1; }
.simulated span { flex: 1 1 0; min-width: 0; font-size: 8.5pt; line-height: 1.25; }
svg.shape { width: 1em; height: 1em; vertical-align: -0.13em; display: inline-block; flex: none; }
.verdict strong { display: flex; gap: 2.5mm; align-items: center; }
.verdict.bad svg.shape { width: 1.15em; height: 1.15em; }
.counts { display: flex; gap: 2mm 5mm; flex-wrap: wrap; font-size: 10pt; margin-top: 0.5mm; }
.verdict .counts span { display: inline; font-size: 9.5pt; white-space: nowrap; }
.verdict .counts b { font-size: 13pt; }
ul.doubts { border: 1px solid #000; border-left-width: 4px; margin: 0 0 2.5mm; padding: 1mm 3mm 1mm 7mm; font-weight: bold; font-size: 7.8pt; line-height: 1.2; }
section.first { font-size: 8.2pt; line-height: 1.25; }
.first h1 { margin-bottom: 0.5mm; } .first header p { margin-bottom: 1mm; } .first .verdict { padding: 1.2mm 3mm; }
.first a { color: inherit; text-decoration: none; }
.first table { margin-bottom: 1.5mm; font-size: 7.6pt; line-height: 1.2; } .first caption { font-size: 7.6pt; padding-bottom: 0.5mm; }
.first .facts > div { padding: 0.6mm 0; }
.first .facts { margin-bottom: 1.5mm; }
.first .caution { margin-bottom: 1.5mm; padding: 1mm 3mm 0.2mm; border-width: 2px; } .first .caution p { margin-bottom: 0.6mm; }
.first .verdicts { margin-bottom: 2mm; }
.first h2 { margin: 2mm 0 1mm; font-size: 9.5pt; }
.first td, .first th { padding-top: 0.2mm; padding-bottom: 0.2mm; }
.first .hash, .hash { font-size: 6.6pt; }
ul.not { columns: 2; column-gap: 6mm; margin: 0; padding-left: 4mm; font-size: 7.3pt; line-height: 1.2; }
ul.not li { break-inside: avoid; margin-bottom: 0.3mm; }
.sign td { height: 9mm; vertical-align: bottom; border-bottom: 1px solid #000; }
.sign { break-inside: avoid; margin-bottom: 0; }
/* A heading never stands alone at the foot of a sheet. */
.together { break-inside: avoid; }
.procedure .name { font-size: 8pt; white-space: nowrap; }
.step { break-inside: avoid; margin: 0 0 4mm; }
.step > h3 { font-size: 10.5pt; margin: 4mm 0 1mm; }
.step > h3 code { font-size: 7.5pt; font-weight: normal; white-space: nowrap; }
.who { font-size: 8.2pt; line-height: 1.3; margin-bottom: 1.5mm; }
.step h3 .says { float: right; font-size: 9pt; margin-left: 4mm; }
h2 .says { float: right; font-size: 10pt; margin-left: 4mm; }
.says { white-space: nowrap; }
table.figures { margin-bottom: 2mm; }
table.figures tbody { break-inside: avoid; }
table.figures tr.what td { border-bottom: none; }
table.figures tr.source td { padding-top: 0; font-size: 7pt; color: #222; }
table.figures th.right, table.figures td.right { white-space: nowrap; overflow-wrap: normal; }
.deviations { border-left: 4px solid #000; margin: 0 0 2mm; padding: 0.3mm 0 0.3mm 2.5mm; font-size: 8pt; line-height: 1.3; }
.deviations ul { margin: 0; padding-left: 4.5mm; }
.step figure { margin-bottom: 1.5mm; }
.step figure svg + svg { margin-top: -1px; }
@media screen and (max-width: 640px) { .head { display: block; } .number { text-align: left; } .simulated { display: block; } ul.not { columns: 1; } .step .wide { overflow-x: auto; } h2 .says, .step h3 .says { float: none; display: block; margin-left: 0; } }
`;

/**
 * What stands at the foot of every sheet, so that none is taken for one of another paper.
 * @param number hexadecimal digits: they go into a style as they are
 */
export function footOf(number: string, passed: boolean, simulated: boolean): string {
  if (!/^[0-9a-f]+$/.test(number)) return '';
  const what = [
    passed ? `Certificate ${number}` : `No certificate: proof ${number}, not passed`,
    ...(simulated ? ['SIMULATED'] : []),
    'Live DC kills. This is not a safety function.',
  ].join(' · ');
  return `@page { @bottom-left { content: "${what}"; } }\n`;
}
