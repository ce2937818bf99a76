/**
 * How the live page looks, light and dark, from a screen across the workshop down to an upright tablet. Grey at
 * rest; the one colour there is means that something is wrong, and shape and words say it too.
 */

const LIGHT =
  '--paper:#eeeeec;--panel:#fbfbfa;--ink:#15181b;--mute:#4c5157;--line:#b4b8bc;--grid:#dcdedf;--old:#565b60;--alarm:#a3001b;--alarm-paper:#fbe6e8;--lift:#fff;';
const DARK =
  '--paper:#0f1113;--panel:#181b1e;--ink:#eceeef;--mute:#b0b6bc;--line:#454b51;--grid:#2a2e32;--old:#a3a9af;--alarm:#ff97a0;--alarm-paper:#3b1117;--lift:#22262a;';

const BASE = `
:root { color-scheme: light; ${LIGHT} }
@media (prefers-color-scheme: dark) { :root:not([data-theme]) { color-scheme: dark; ${DARK} } }
:root[data-theme="dark"] { color-scheme: dark; ${DARK} }
*, *::before, *::after { box-sizing: border-box; }
[hidden] { display: none !important; }
html { font: 16px/1.35 system-ui, "DejaVu Sans", "Liberation Sans", sans-serif; font-variant-numeric: tabular-nums; color: var(--ink); background: var(--paper); scroll-padding-top: 11rem; }
body { margin: 0; }
h1, h2, h3, p, ul, ol, dl, dd, fieldset { margin: 0; padding: 0; }
ul, ol { list-style: none; }
h1 { font-size: 1rem; letter-spacing: 0.04em; }
h2 { font-size: 0.95rem; }
h3 { font-size: 0.9rem; }
.note, .said, .legend-line { color: var(--mute); font-size: 0.85rem; }
.said:empty, .note:empty { display: none; }
:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px; }
section:focus { outline: none; }
section:focus-visible { outline: 3px solid var(--ink); }
button, input, select { font: inherit; color: var(--ink); background: var(--lift); border: 1px solid var(--mute); border-radius: 4px; padding: 0.35rem 0.6rem; min-height: 2.3rem; max-width: 100%; }
button { font-weight: 600; cursor: pointer; }
button:hover { border-color: var(--ink); box-shadow: inset 0 0 0 1px var(--ink); }
button[aria-pressed="true"] { background: var(--ink); color: var(--panel); }
input[type="checkbox"] { min-height: 0; width: 1.2rem; height: 1.2rem; flex: none; accent-color: var(--ink); }
input::placeholder { color: var(--mute); opacity: 1; }
kbd { font: inherit; border: 1px solid var(--mute); border-radius: 3px; padding: 0 0.35em; }
#skips { position: absolute; z-index: 9; }
#skips a { position: absolute; left: -99rem; background: var(--ink); color: var(--paper); padding: 0.5rem 1rem; z-index: 9; }
#skips a:focus { left: 0; top: 0; }
footer { padding: 0 0.75rem 0.25rem; color: var(--mute); font-size: 0.75rem; }
`;

const HEADER = `
header { position: sticky; top: 0; z-index: 5; background: var(--paper); border-bottom: 2px solid var(--ink); }
#caution { background: var(--ink); color: var(--paper); padding: 0.25rem 0.75rem; font-size: 0.95rem; }
#bar { display: flex; align-items: center; gap: 0.5rem 1rem; padding: 0.35rem 0.75rem; }
#who { flex: 0 1 auto; min-width: 0; }
#who h1 { line-height: 1.1; }
#rig { color: var(--mute); font-size: 0.85rem; }
#tools { flex: 1 1 auto; display: flex; flex-wrap: wrap; justify-content: flex-end; align-items: center; gap: 0.4rem 0.6rem; font-size: 0.9rem; }
#control-word { font-weight: 600; }
#tools button { min-height: 2rem; padding: 0.15rem 0.5rem; font-weight: 400; }
#trip-now-box { flex: none; display: flex; align-items: center; gap: 0.6rem; }
#trip-now button { font-size: 1.35rem; font-weight: 800; min-height: 3rem; padding: 0.3rem 1.4rem; background: var(--ink); color: var(--paper); border: 3px double var(--paper); outline-offset: 3px; }
#trip-now button:hover { background: var(--mute); }
#trip-now-note { max-width: 11.5rem; font-size: 0.8rem; line-height: 1.2; }
body:not([data-signed-in]) #trip-now-box, body:not([data-signed-in]) #tools { display: none; }
#lost { display: none; background: var(--alarm-paper); color: var(--alarm); border-top: 3px solid var(--alarm); border-bottom: 3px solid var(--alarm); padding: 0.35rem 0.75rem; font-size: 1.15rem; font-weight: 700; }
#lost:has(#lost-text:not(:empty)) { display: block; }
#lost-age { font-size: 0.9rem; font-weight: 400; }
body[data-link="lost"] :is(#glance, #parts) { filter: grayscale(1); }
body[data-link="lost"] :is(#glance, #diagram-drawing, #stand-facts, #chain-list, #missing, #readout, #charts, #people-list) { --ink: var(--old); --mute: var(--old); --alarm: var(--old); --alarm-paper: var(--panel); color: var(--old); }
body[data-link="lost"] .plot { opacity: 0.4; }
body[data-link="lost"] #glance { background: repeating-linear-gradient(-45deg, var(--panel) 0 18px, var(--grid) 18px 30px); }
`;

const NOTICES = `
#notices:has(section:not([hidden])) { padding: 0.4rem 0.75rem; display: grid; gap: 0.4rem; }
#trip, .refusal { background: var(--alarm-paper); border: 3px solid var(--alarm); border-radius: 4px; padding: 0.5rem 0.9rem; }
#trip h2, .refusal h2 { font-size: 1.5rem; line-height: 1.2; color: var(--alarm); }
#trip p, .refusal p { font-size: 1.1rem; }
#refusals { display: grid; gap: 0.5rem; max-height: 42vh; overflow-y: auto; }
.refusal { border-style: dashed; position: relative; }
.refusal h2 { padding-right: 8rem; }
.refusal > p { font-size: 1.35rem; font-weight: 600; margin: 0.2rem 0 0.4rem; }
.refusal dl { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(13rem, 100%), 1fr)); gap: 0.3rem 1.2rem; }
.refusal dt { font-size: 0.85rem; color: var(--mute); }
.refusal dd { font-size: 1.25rem; font-weight: 600; overflow-wrap: anywhere; }
.refusal .wide { grid-column: 1 / -1; }
.refusal button { position: absolute; top: 0.5rem; right: 0.6rem; font-size: 1.05rem; }
.sign-in { max-width: 32rem; margin: 8vh auto; padding: 1.5rem; background: var(--panel); border: 1px solid var(--line); border-radius: 6px; display: grid; gap: 0.8rem; font-size: 1.1rem; }
.sign-in h2 { font-size: 1.5rem; }
.sign-in [role="alert"] { color: var(--alarm); font-weight: 600; }
.sign-in [role="alert"]:empty { display: none; }
`;

const GLANCE = `
#glance { display: grid; grid-template-columns: minmax(0, 1.2fr) minmax(0, 1.2fr) auto auto auto; gap: 0.2rem 1.6rem; margin: 0.5rem 0.75rem 0; padding: 0.5rem 1rem; background: var(--panel); border: 1px solid var(--line); border-left: 10px solid var(--line); border-radius: 4px; }
#glance[data-kind="live"] { border-left-color: var(--ink); }
#glance[data-kind="unknown"] { border-style: dashed; border-color: var(--ink); border-left-width: 10px; }
#glance:is([data-kind="alarm"], [data-kind="warning"]) { border-color: var(--alarm); }
#glance[data-kind="alarm"] { background: var(--alarm-paper); }
#glance:is([data-kind="alarm"], [data-kind="warning"]) #state .big { color: var(--alarm); }
#glance h2 { font-size: 0.85rem; font-weight: 600; color: var(--mute); }
#glance p { overflow-wrap: break-word; }
#glance .big { font-weight: 800; line-height: 1.05; font-size: clamp(2rem, 3.3vw, 4.2rem); }
#state .big { font-size: clamp(2.2rem, 3.2vw, 4.4rem); }
#phase .big { font-size: clamp(1.7rem, 2.55vw, 3.7rem); }
#glance .huge { font-weight: 800; line-height: 1; font-size: clamp(3rem, 5.4vw, 7rem); white-space: nowrap; letter-spacing: -0.02em; }
.huge .unit { font-size: 0.45em; letter-spacing: 0; margin-left: 0.25em; }
#glance :is(#state-detail, #phase-detail, .dial p:not(.huge)) { font-size: 0.95rem; color: var(--mute); }
#last-end { grid-column: 1 / -1; font-size: 0.9rem; border-top: 1px solid var(--line); padding-top: 0.2rem; }
.dial { min-width: 9.5rem; max-width: 19rem; }
`;

const PARTS = `
#parts { display: grid; gap: 0.5rem; padding: 0.5rem 0.75rem; }
.part { background: var(--panel); border: 1px solid var(--line); border-radius: 4px; padding: 0.4rem 0.75rem 0.6rem; min-width: 0; }
.part > h2 { color: var(--mute); margin-bottom: 0.25rem; }
#do, #know { display: grid; gap: 0.5rem; align-content: start; min-width: 0; }
#diagram-drawing svg { display: block; width: 100%; height: auto; font-size: 15px; }
.facts { display: flex; flex-wrap: wrap; gap: 0.2rem 1.3rem; margin: 0.3rem 0; }
.facts dt { font-size: 0.78rem; color: var(--mute); }
.facts dd { font-weight: 600; }
.facts .abnormal dd { color: var(--alarm); }
svg text { fill: var(--ink); }
svg .name { fill: var(--mute); }
svg .small { font-size: 0.94em; }
svg .value { font-weight: 700; }
svg .big { font-weight: 800; font-size: 1.7em; paint-order: stroke; stroke: var(--panel); stroke-width: 6px; }
svg .backed { paint-order: stroke; stroke: var(--panel); stroke-width: 5px; }
.wire, .thin, .plate, .blade { fill: none; stroke: var(--ink); }
.thin { stroke-width: 2; }
.plate, .blade { stroke-width: 4; }
.wire { stroke: var(--mute); stroke-width: 1.5; }
.wire[data-potential="live"] { stroke: var(--ink); stroke-width: 6; }
.wire[data-potential="unknown"] { stroke: var(--ink); stroke-width: 3; stroke-dasharray: 9 6; }
svg[data-tripped="true"] .wire[data-potential="live"] { stroke: var(--alarm); }
.box, .cable { fill: var(--panel); stroke: var(--ink); stroke-width: 2; }
.box[data-abnormal="true"] { stroke: var(--alarm); stroke-width: 5; }
.bolt { fill: var(--ink); }
.doubt { visibility: hidden; font-weight: 800; font-size: 1.25em; paint-order: stroke; stroke: var(--panel); stroke-width: 6px; }
.switch circle { fill: var(--panel); stroke: var(--ink); stroke-width: 2.5; }
[data-contact="closed"] circle { fill: var(--ink); }
[data-contact="unknown"] .blade { stroke-dasharray: 4 5; }
[data-contact="unknown"] .doubt { visibility: visible; }
[data-differs="true"] text { font-weight: 700; }
.plug[data-locked="unknown"] .bolt { fill: none; stroke: var(--ink); stroke-dasharray: 3 3; }
.plug[data-locked="unknown"] .doubt { visibility: visible; }
.plug[data-locked="open"] .bolt { fill: var(--panel); stroke: var(--ink); stroke-width: 2; }
.frame { fill: none; stroke: var(--line); stroke-width: 1.5; }
.potential[data-potential="live"] .frame { fill: var(--ink); stroke: var(--ink); }
.potential[data-potential="live"] text { fill: var(--panel); }
.potential[data-potential="unknown"] .frame { stroke: var(--ink); stroke-width: 2; stroke-dasharray: 7 5; }
svg[data-tripped="true"] .potential[data-potential="live"] .frame { fill: var(--alarm); stroke: var(--alarm); }
`;

const LISTS = `
#missing { border-left: 6px solid var(--ink); padding: 0.1rem 0.6rem; margin-bottom: 0.4rem; }
#missing-headline { font-weight: 700; }
#missing-items li { color: var(--alarm); font-weight: 600; }
.remedy { color: var(--ink); font-weight: 400; }
#chain-list li[data-state] { display: grid; grid-template-columns: 1.3rem minmax(0, 1fr) auto 4.6rem; column-gap: 0.4rem; padding: 0.16rem 0; border-top: 1px solid var(--grid); }
#chain-list .word { font-weight: 700; text-align: right; }
#chain-list .age { text-align: right; align-self: center; color: var(--mute); font-size: 0.82rem; }
#chain-list .figures { grid-column: 2 / -1; grid-row: 2; color: var(--mute); font-size: 0.82rem; overflow-wrap: anywhere; }
#chain-list :is([data-state="later"], [data-state="not-needed"]) :is(.what, .word, .shape) { color: var(--mute); font-weight: 400; }
#chain-list [data-state="missing"] .what { font-weight: 700; }
#chain-list [data-state="lost"] :is(.what, .word, .shape), .failing { color: var(--alarm); font-weight: 700; }
#event-list > li { display: grid; grid-template-columns: 5.6rem 4.6rem minmax(0, 1fr); gap: 0 0.5rem; padding: 0.14rem 0; border-top: 1px solid var(--grid); font-size: 0.88rem; }
#event-list .kind { color: var(--mute); }
#event-list .text { overflow-wrap: anywhere; }
#event-list .loud :is(.text, .kind) { color: var(--alarm); font-weight: 600; }
#event-list .more { display: block; color: var(--ink); font-weight: 400; }
.first-out { border: 2px solid var(--alarm); border-radius: 3px; padding: 0 0.3em; margin-right: 0.4em; white-space: nowrap; }
.scroll { max-height: 24rem; overflow-y: auto; }
`;

const FORMS = `
.order, .hands, .invite { display: grid; gap: 0.35rem; padding: 0.45rem 0; border-top: 1px solid var(--grid); }
#order-forms, #bench-forms { display: grid; }
.order .do { display: flex; align-items: center; gap: 0.7rem; }
.order .do button { flex: none; min-width: 8.4rem; }
.field { display: grid; grid-template-columns: 8.4rem minmax(0, 1fr) 2.6rem; gap: 0.7rem; align-items: center; font-size: 0.92rem; }
.field > input[type="number"], .field > select, .field > input[type="text"] { width: 100%; min-height: 2rem; padding: 0.15rem 0.4rem; }
.field > select, .field > .joined, .field > input[type="text"] { grid-column: 2 / -1; }
.wish { border: 0; display: grid; grid-template-columns: 1fr 1fr; gap: 0.3rem 1rem; }
.wish .field { grid-template-columns: minmax(0, 1fr) 2.2rem; gap: 0 0.4rem; }
.wish .field span:first-child { grid-column: 1 / -1; font-size: 0.85rem; }
.wish legend { padding: 0 0 0.25rem; font-size: 0.85rem; color: var(--mute); }
.tick { display: flex; gap: 0.6rem; align-items: flex-start; font-size: 0.88rem; }
.joined { display: flex; gap: 0.4rem; align-items: center; }
.joined > :is(input, select) { flex: 1 1 auto; min-width: 0; }
.invite input { width: 100%; }
.hands { grid-template-columns: 1fr 1fr; }
#control-acts { display: flex; flex-wrap: wrap; gap: 0.4rem; margin: 0.4rem 0; }
#bench-exercise:not(:empty) { border: 2px solid var(--ink); border-radius: 4px; padding: 0.4rem 0.6rem; margin: 0.4rem 0; }
#bench-exercise ul { list-style: disc; padding-left: 1.2rem; }
#help { background: var(--panel); color: var(--ink); border: 2px solid var(--ink); border-radius: 6px; max-width: 34rem; padding: 1rem 1.4rem; }
#help::backdrop { background: rgb(0 0 0 / 50%); }
#keys-list { margin: 0.6rem 0; display: grid; gap: 0.25rem; }
#keys-list > div { display: grid; grid-template-columns: 3.2rem 1fr; }
#help-close { margin-top: 0.8rem; }
`;

const TRACES = `
#traces { display: flex; flex-direction: column; }
#trace-hands { display: flex; flex-wrap: wrap; gap: 0.3rem; align-items: center; }
#trace-hands button { min-height: 1.9rem; padding: 0.05rem 0.45rem; font-size: 0.9rem; font-weight: 400; }
#trace-hands .tick { margin-right: 0.5rem; align-items: center; }
#trace-top { display: flex; flex-wrap: wrap; gap: 0.2rem 1.2rem; align-items: center; margin-bottom: 0.3rem; }
#readout { font-weight: 700; min-height: 1.5rem; font-size: 0.92rem; }
#charts { flex: 1 1 auto; display: flex; flex-direction: column; height: 40rem; border-radius: 3px; }
.chart { flex: 1 1 0; min-height: 6.2rem; display: flex; flex-direction: column; }
.chart-head { display: flex; flex-wrap: wrap; gap: 0 1rem; align-items: baseline; }
.legend { display: flex; flex-wrap: wrap; gap: 0 0.9rem; font-size: 0.82rem; }
.legend > div { display: flex; gap: 0.3rem; }
.legend dt { color: var(--mute); }
.legend dd { font-weight: 600; min-width: 4.2em; }
.swatch { width: 30px; height: 8px; stroke: var(--ink); margin-right: 0.25rem; vertical-align: middle; }
.plot { position: relative; flex: 1 1 0; min-height: 0; overflow: hidden; }
.plot .uplot { position: absolute; inset: 0; }
.uplot .u-select { background: var(--mute); opacity: 0.3; }
.uplot :is(.u-cursor-x, .u-cursor-y) { border-color: var(--ink); }
#pilot-plot { height: 11rem; flex: none; }
`;

/** Two columns on a tablet that lies, three on a workshop screen, which then does not scroll as a whole. */
const SIZES = `
@media (min-width: 900px) {
  #parts { grid-template-columns: minmax(19rem, 24rem) minmax(0, 1fr); grid-template-areas: "diagram diagram" "do know" "do traces"; grid-template-rows: auto auto 1fr; }
  #diagram { grid-area: diagram; } #do { grid-area: do; } #know { grid-area: know; } #traces { grid-area: traces; }
}
@media (max-width: 1300px) {
  #glance { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr) minmax(0, 1fr); }
  #state { grid-column: 1 / 3; }
  #glance .huge { font-size: clamp(2.8rem, 7.4vw, 6rem); }
  #state .big { font-size: clamp(2rem, 5.6vw, 4rem); } #phase .big { font-size: clamp(1.4rem, 3.4vw, 3rem); }
  .dial { max-width: none; }
}
@media (max-width: 1300px) {
  #trip { padding: 0.3rem 0.6rem; } #trip h2 { font-size: 1.2rem; } #trip p { font-size: 0.95rem; }
  .refusal { padding: 0.4rem 0.6rem; } .refusal h2 { font-size: 1.25rem; } .refusal > p { font-size: 1.15rem; } .refusal dd { font-size: 1.05rem; }
}
@media (max-width: 899px) {
  html { font-size: 15px; }
  #diagram-drawing svg { font-size: 16.5px; }
  #bar { flex-wrap: wrap; }
  #tools { order: 3; flex-basis: 100%; justify-content: flex-start; }
  #who { flex: 1 1 12rem; }
}
@media (min-width: 1500px) and (min-height: 800px) {
  html { font-size: 17px; scroll-padding-top: 0; }
  body { height: 100dvh; display: grid; grid-template-rows: auto minmax(0, 1fr) auto; }
  main { overflow-y: auto; min-height: 0; }
  #work { height: 100%; display: flex; flex-direction: column; }
  #parts { flex: 1 1 auto; min-height: 36rem; grid-template-columns: minmax(0, 1fr) 22.5rem 27rem; grid-template-rows: auto minmax(0, 1fr); grid-template-areas: "diagram do know" "traces do know"; }
  #do { overflow-y: auto; } #know { grid-template-rows: minmax(0, 1.7fr) minmax(0, 1fr); align-content: stretch; min-height: 0; }
  #know > .part { display: flex; flex-direction: column; min-height: 0; }
  #know .scroll { max-height: none; flex: 1 1 auto; min-height: 0; }
  #do { min-height: 0; }
  #traces { min-height: 0; overflow-y: auto; display: grid; grid-template-columns: auto minmax(0, 1fr); grid-template-rows: auto minmax(16rem, 1fr); gap: 0 1rem; align-items: start; }
  #traces > :not(h2, #trace-top) { grid-column: 1 / -1; }
  #charts { height: auto; height: 100%; min-height: 0; display: grid; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); grid-template-rows: minmax(0, 1fr) minmax(0, 1.1fr); grid-auto-flow: column; gap: 0.2rem 1rem; }
  .chart { min-height: 0; }
  #caution { font-size: 1rem; }
  #diagram .legend-line { display: none; }
  #trace-hands button { font-size: 0.85rem; }
  .chart-head { flex-wrap: nowrap; gap: 0 0.7rem; }
  .chart-head h3 { font-size: 0.82rem; }
  .legend { gap: 0 0.55rem; font-size: 0.76rem; }
  .legend :is(dt, dd) { min-width: 0; white-space: nowrap; }
  .swatch { width: 22px; }
  #chain-list { font-size: 0.92rem; }
}
@media (prefers-reduced-motion: no-preference) { html { scroll-behavior: smooth; } }
@media (forced-colors: active) { .wire[data-potential="live"] { stroke: CanvasText; } }
`;

export const PAGE_STYLE = [BASE, HEADER, NOTICES, GLANCE, PARTS, LISTS, FORMS, TRACES, SIZES].join('');
