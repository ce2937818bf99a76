/**
 * The live page as it is served: a frame of named parts that the scripts fill. No script and no style stand in
 * it but the import map, whose hash the server names in its policy.
 */

/** Lets the scripts of the page import uPlot by its name. */
export const IMPORT_MAP = '{"imports":{"uplot":"/page/uplot.js"}}';

/**
 * uPlot as a module, from its minified script: half of what its own module weighs on the wire.
 * The script declares one variable of its name and nothing else.
 */
export const uplotModule = (minified: string): string => `${minified.trimEnd()}\nexport default uPlot;\n`;

/** What the lines of the diagram mean: below it where there is room, and with the keys. */
const LINES =
  'Heavy: live. Thin: under the touch-safe voltage, which is not proven dead. Broken, with ?: not known, take it for live.';

/** A loop with its plug, in grey: without an icon of its own a browser asks for one that is not there. */
export const PAGE_ICON = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><rect width="16" height="16" rx="3" fill="#15181b"/><path d="M11 5H5.5a3 3 0 0 0 0 6H11M11 3.5v3M11 9.5v3" fill="none" stroke="#eceeef" stroke-width="2"/></svg>
`;

const part = (id: string, title: string, body: string): string =>
  `<section id="${id}" class="part" aria-labelledby="${id}-title" tabindex="-1">
<h2 id="${id}-title">${title}</h2>
${body}
</section>`;

const HEADER = `<header id="top">
<p id="caution"><strong>Live DC kills.</strong> <span>This page is not a safety function; the emergency stop is the button on the charger.</span></p>
<div id="bar">
<div id="who"><h1>loopwarden</h1><p id="rig"></p></div>
<div id="tools">
<p id="control-word"></p>
<span id="control-take"></span>
<button type="button" id="look">Look: system</button>
<button type="button" id="help-open">Keys <kbd>?</kbd></button>
<button type="button" id="sign-out">Sign out</button>
</div>
<div id="trip-now-box"><div id="trip-now"></div><p id="trip-now-note">Not the emergency stop: that is the button on the charger.</p></div>
</div>
<div id="lost"><p id="lost-text" role="alert"></p><p id="lost-age"></p></div>
<div id="notices">
<section id="trip" role="alert" hidden></section>
<section id="refusals" aria-label="Refusals" aria-live="assertive" hidden></section>
</div>
</header>`;

const GLANCE = `<section id="glance" aria-label="State of the whole">
<div id="state"><p class="big"><span id="state-shape" aria-hidden="true"></span> <span id="state-word"></span></p><p id="state-detail"></p></div>
<div id="phase"><h2>Phase</h2><p class="big" id="phase-word"></p><p id="phase-detail"></p></div>
<div class="dial"><h2>Volts, output or plug</h2><p class="huge"><span id="big-volts"></span><span class="unit">V</span></p><p id="volts-detail"></p></div>
<div class="dial"><h2>Amps</h2><p class="huge"><span id="big-amps"></span><span class="unit">A</span></p><p id="amps-detail"></p><p id="limit-detail"></p></div>
<div class="dial"><h2>Charge, least raft</h2><p class="huge"><span id="big-soc"></span><span class="unit">%</span></p><p id="energy-detail"></p></div>
<p id="last-end" hidden></p>
</section>`;

const PARTS = [
  part(
    'diagram',
    'Circuit',
    `<div id="diagram-drawing"></div>\n<dl id="stand-facts" class="facts"></dl>\n<p class="legend-line">${LINES}</p>`,
  ),
  `<div id="do">
${part('orders', 'Orders', '<p id="orders-said" class="said" role="status"></p>\n<div id="order-forms"></div>')}
${part('people', 'People and control', '<ul id="people-list"></ul>\n<div id="control-acts"></div>\n<div id="invite"></div>')}
${part('bench', 'Simulated bench', '<p id="bench-speed"></p>\n<p id="bench-note" class="note"></p>\n<div id="bench-exercise" aria-live="polite"></div>\n<ul id="bench-faults" aria-label="Faults"></ul>\n<p id="bench-said" class="said" role="status"></p>\n<div id="bench-forms"></div>')}
</div>`,
  `<div id="know">
${part('chain', 'Chain of proofs', '<div id="missing"><p id="missing-headline"></p><ul id="missing-items"></ul></div>\n<div class="scroll" tabindex="0" role="region" aria-label="Proofs in order"><ol id="chain-list"></ol></div>')}
${part('events', 'Events', '<div class="scroll" tabindex="0" role="region" aria-label="Events, newest first"><ol id="event-list"></ol></div>')}
</div>`,
  part(
    'traces',
    'Traces',
    `<div id="trace-top"><div id="trace-hands"></div><p id="readout"></p></div>
<div id="charts" tabindex="0" role="group" aria-label="Charts: arrows move the cursor, plus and minus zoom, 0 resets"></div>
<h3>Pilot current</h3>
<p id="pilot-word" class="note"></p>
<div id="pilot-plot" class="plot" role="img" aria-label="Pilot current as sampled" hidden></div>`,
  ),
];

const HELP = `<dialog id="help" aria-labelledby="help-title">
<h2 id="help-title">Keys</h2>
<dl id="keys-list"></dl>
<label class="tick"><input type="checkbox" id="keys-on" checked><span>Single keys act</span></label>
<h3>Lines of the circuit</h3>
<p>${LINES}</p>
<button type="button" id="help-close">Close</button>
</dialog>`;

const SKIPS = ['orders', 'chain', 'events', 'traces'].map((id) => `<a href="#${id}">To ${id}</a>`).join('');

const HTML = `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>loopwarden: live</title>
<link rel="icon" href="/page/icon.svg" type="image/svg+xml">
<link rel="stylesheet" href="/page/uplot.css">
<link rel="stylesheet" href="/page/page.css">
<script type="importmap">${IMPORT_MAP}</script>
<script type="module" src="/page/main.js"></script>
</head>
<body data-link="heard">
<nav id="skips" aria-label="Skip to">${SKIPS}</nav>
${HEADER}
<main>
<noscript><p class="sign-in">This page needs scripts. The charger does not need this page.</p></noscript>
<div id="sign-in" hidden></div>
<div id="work" hidden>
${GLANCE}
<div id="parts">
${PARTS.join('\n')}
</div>
</div>
</main>
<footer><p id="software"></p></footer>
${HELP}
</body>
</html>
`;

export const pageHtml = (): string => HTML;
