/** How a page looks, on a screen and on A4. Nothing is told by colour alone. */
export const STYLE = `
@page { size: A4; margin: 14mm 14mm 16mm; @bottom-left { content: "Live DC kills. This is not a safety function."; font: 7.5pt sans-serif; } @bottom-right { content: counter(page) " / " counter(pages); font: 7.5pt sans-serif; } }
* { box-sizing: border-box; }
html { font: 9.5pt/1.38 "DejaVu Sans", Helvetica, Arial, sans-serif; color: #000; background: #fff; }
body { max-width: 182mm; margin: 0 auto; padding: 6mm 0; overflow-wrap: break-word; }
h1 { font-size: 15pt; line-height: 1.2; margin: 0 0 2mm; overflow-wrap: anywhere; }
h2 { font-size: 12.5pt; margin: 7mm 0 2mm; border-bottom: 1px solid #000; break-after: avoid; }
h3 { font-size: 10pt; margin: 4mm 0 1mm; break-after: avoid; }
p { margin: 0 0 2mm; }
code { font-family: "DejaVu Sans Mono", monospace; font-size: 0.92em; overflow-wrap: anywhere; }
.hash { font-size: 7.5pt; }
.caution { border: 2.5px solid #000; padding: 2mm 3mm 1mm; margin: 0 0 4mm; break-inside: avoid; }
.caution p { margin-bottom: 1mm; }
.verdicts { display: flex; gap: 4mm; margin: 0 0 3mm; }
.verdict { flex: 1 1 0; min-width: 0; border: 1px solid #000; padding: 2mm 3mm; margin: 0; }
.verdict.bad { border-width: 4px; padding: calc(2mm - 3px) calc(3mm - 3px); }
.verdict span { display: block; font-size: 8pt; }
.verdict strong { display: block; font-size: 14pt; line-height: 1.25; }
.facts { margin: 0; }
.facts > div { display: flex; gap: 3mm; padding: 1.2mm 0; border-top: 1px solid #bbb; break-inside: avoid; }
.facts dt { flex: 0 0 22mm; font-weight: bold; }
.facts dd { flex: 1 1 0; min-width: 0; margin: 0; overflow-wrap: anywhere; }
.facts ul { margin: 1mm 0 0; padding-left: 5mm; }
nav { font-size: 8.5pt; margin-top: 3mm; }
nav a { color: inherit; margin-right: 4mm; white-space: nowrap; }
figure { margin: 0 0 2.5mm; break-inside: avoid; }
figure svg { display: block; width: 100%; height: auto; }
figcaption { font-size: 8pt; line-height: 1.3; }
figcaption strong { font-size: 9pt; }
.legend { font-size: 8pt; }
#summary table { margin-top: 4mm; }
table { width: 100%; table-layout: fixed; border-collapse: collapse; margin: 0 0 4mm; font-size: 7.8pt; line-height: 1.3; }
caption { text-align: left; font-size: 8pt; padding: 0 0 1mm; break-after: avoid; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: 0.7mm 1.2mm; border-bottom: 1px solid #ccc; overflow-wrap: anywhere; }
thead th { border-bottom: 1px solid #000; }
th.right, td.right { text-align: right; }
td.code { font-family: "DejaVu Sans Mono", monospace; font-size: 7pt; }
td.more { font-style: italic; text-align: center; }
.end { margin-top: 6mm; }
@media screen { body { padding: 8mm 4mm; } }
@media print { body { max-width: none; padding: 0; } .page { break-before: page; } section.page > h2 { margin-top: 0; } nav { display: none; } }
@media screen and (max-width: 640px) { .verdicts { display: block; } .verdict { margin-bottom: 3mm; } .wide, figure { overflow-x: auto; } .wide table, figure svg { min-width: 600px; } }
`;
