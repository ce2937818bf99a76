/**
 * The live page in a real browser, served on loopback: until the first state is shown, against an empty page; what its
 * scripts weigh on the way; and drawing one hour of traces anew, against the bare chart library with the same points.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import { chromium } from 'playwright-core';
import { FLAGS, findBrowser } from '../page/chromium.mjs';

const dist = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '../../dist');
const load = (file) => import(`${dist}/${file}.js`);
const { pageAssets } = await load('src/cli/page-assets');
const { NOTICE_LINES } = await load('src/cli/notice');
const { realClock } = await load('src/host/clock');
const { quiet } = await load('src/host/diagnostics');
const { newSecret } = await load('src/host/random');
const { SOFTWARE } = await load('src/host/version');
const { makePage } = await load('src/page/page');
const { LiveBench } = await load('src/rehearsal/live-bench');
const { loadRig } = await load('src/rig/load');

const LOADS = Number(process.env.PAGE_LOADS ?? 9);
const REDRAWS = Number(process.env.PAGE_REDRAWS ?? 60);
/** One hour at a point every 200 ms. */
const POINTS = 18_000;
const SIZE = { width: 1920, height: 1080 };
const GOAL = { shownMs: 1000, scriptsKb: 60, redrawMs: 16 };

const sorted = (all) => [...all].sort((a, b) => a - b);
const median = (all) => sorted(all)[all.length >> 1];
const at99 = (all) => sorted(all)[Math.ceil(0.99 * all.length) - 1];

async function served(state) {
  const stand = new LiveBench({ loaded: loadRig('depot-cable'), real: realClock, state, seed: 1 });
  const { assets, scriptHashes } = pageAssets();
  const page = await makePage({
    ...{ stand, clock: realClock, diagnostics: quiet, software: SOFTWARE, caution: NOTICE_LINES, newSecret },
    ...{ place: { host: '127.0.0.1', tls: false, names: [] }, assets, scriptHashes },
  });
  await page.app.listen({ host: '127.0.0.1', port: 0 });
  const address = `http://127.0.0.1:${page.app.server.address().port}/`;
  const close = async () => {
    await stand.close();
    await page.close();
  };
  return { address, people: page.context.people, assets, close };
}

async function emptyPage() {
  const html =
    '<!doctype html><title>empty</title><section aria-label="State of the whole"><p>here</p></section>';
  const server = createServer((_, reply) => reply.setHeader('content-type', 'text/html').end(html));
  await new Promise((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { address: `http://127.0.0.1:${server.address().port}/`, close: () => server.close() };
}

/** Runs in the page before anything of it: notes when the state of the whole says something and has been painted. */
function noteShown() {
  const look = () => {
    const state = document.querySelector('[aria-label="State of the whole"] p');
    if (!state?.checkVisibility() || state.textContent.trim() === '') return requestAnimationFrame(look);
    requestAnimationFrame(() => setTimeout(() => (window.shownMs = performance.now())));
  };
  requestAnimationFrame(look);
}

/** A browser that knows nothing but the cookie: nothing comes from a cache. */
async function shownMs(browser, address, storageState) {
  const context = await browser.newContext({ viewport: SIZE, storageState });
  const page = await context.newPage();
  await page.addInitScript(noteShown);
  await page.goto(address, { waitUntil: 'commit' });
  const took = await page.waitForFunction(() => window.shownMs).then((handle) => handle.jsonValue());
  await context.close();
  return took;
}

/** Bytes of bodies and headers of every script, as they came. */
async function onTheWire(browser, address, storageState) {
  const context = await browser.newContext({ viewport: SIZE, storageState });
  const page = await context.newPage();
  const session = await context.newCDPSession(page);
  await session.send('Network.enable');
  const scripts = new Map();
  let bytes = 0;
  session.on('Network.responseReceived', ({ requestId, type, response }) => {
    if (type === 'Script') scripts.set(requestId, response.url);
  });
  session.on('Network.loadingFinished', ({ requestId, encodedDataLength }) => {
    if (scripts.has(requestId)) bytes += encodedDataLength;
  });
  await page.goto(address);
  await page.getByRole('region', { name: 'State of the whole' }).waitFor();
  await context.close();
  return { count: scripts.size, bytes };
}

/** Runs in the page, on its own modules: one hour drawn anew, by the page's charts and by the bare library. */
async function drawAnew({ points, redraws }) {
  const { TraceStore } = await import('/page/trace-store.js');
  const { TracesView } = await import('/page/traces-view.js');
  const { default: UPlot } = await import('/page/uplot.js');
  const store = new TraceStore();
  store.bindings = ['', 'connection-rating'];
  // A session that ramps, holds and falls, with noise as instruments have it.
  const noise = (i, size) => size * Math.sin(i * 12.9898) * Math.cos(i * 78.233);
  const row = (i) => {
    const amps = Math.min(300, i / 4, (points - i) / 4);
    const volts = 690 + (40 * i) / points;
    return [200 * i, volts + noise(i, 0.4), volts + noise(i + 1, 0.4), volts - 2 + noise(i + 2, 0.4)]
      .concat([amps + noise(i, 0.5), amps, 300, 1, 20 + amps / 10 + noise(i, 0.1), 21 + amps / 9])
      .concat([25 + amps / 30, 0.4 + (0.5 * i) / points]);
  };
  store.add(
    0,
    Array.from({ length: points }, (_, i) => row(i)),
  );
  const view = new TracesView(store);
  const hour = [...document.querySelectorAll('#trace-hands button')].find((b) => b.textContent === '1 h');
  hour.click();
  const frame = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  await frame();
  /** Until the pixels are there: a canvas only notes what it is to draw. */
  const drawn = (canvases) => {
    for (const canvas of canvases) canvas.getContext('2d').getImageData(0, 0, 1, 1);
  };
  const timed = async (canvases, draw) => {
    const all = [];
    for (let i = 0; i < redraws; i++) {
      const startMs = performance.now();
      draw();
      drawn(canvases);
      all.push(performance.now() - startMs);
      if (i % 10 === 9) await frame();
    }
    return all;
  };
  const ours = [...document.querySelectorAll('#charts canvas')];
  const again = () => {
    view.changed();
    view.frame();
  };
  const [width, height] = [ours[0].clientWidth, ours[0].clientHeight];
  const fields = [
    ['outputV', 'plugV', 'trainV'],
    ['currentA', 'setpointA', 'leastA'],
    ['cableC', 'contactC', 'cellMaxC'],
    ['soc'],
  ];
  const bare = fields.map((names) => {
    const host = document.body.appendChild(document.createElement('div'));
    // Out of the flow: beside the page it would leave our charts less room.
    Object.assign(host.style, { position: 'fixed', left: '0', top: '0' });
    const series = [{}, ...names.map(() => ({ stroke: 'black', points: { show: false } }))];
    const scales = { x: { time: false } };
    const data = [store.x, ...names.map((name) => store.columns[name])];
    return { data, plot: new UPlot({ width, height, series, scales }, data, host) };
  });
  const bareAgain = () => {
    for (const { plot, data } of bare) plot.batch(() => plot.setData(data));
  };
  const theirs = bare.map(({ plot }) => plot.ctx.canvas);
  await timed(ours, again);
  await timed(theirs, bareAgain);
  return {
    charts: ours.length,
    points: store.x.length,
    oursMs: await timed(ours, again),
    bareMs: await timed(theirs, bareAgain),
    size: `${ours[0].clientWidth} × ${ours[0].clientHeight}`,
  };
}

export async function run() {
  const found = await findBrowser();
  if (found.why !== undefined) {
    process.stdout.write(`The live page: not measured, ${found.why}\n`);
    return;
  }
  const state = mkdtempSync(path.join(tmpdir(), 'loopwarden-bench-'));
  const browser = await chromium.launch({
    executablePath: found.executablePath,
    env: { ...process.env, ...found.env },
    args: [...FLAGS],
  });
  const [page, empty] = [await served(state), await emptyPage()];
  try {
    const context = await browser.newContext({ viewport: SIZE });
    const first = await context.newPage();
    await first.goto(`${page.address}#invitation=${page.people.invite('engineer').invitation}`);
    await first.getByRole('textbox', { name: 'Your name' }).fill('N. Aalto');
    await first.getByRole('button', { name: 'Sign in' }).click();
    await first.getByRole('region', { name: 'State of the whole' }).waitFor();
    const cookie = await context.storageState();

    const [shown, peer] = [[], []];
    for (let i = 0; i < LOADS; i++) {
      peer.push(await shownMs(browser, empty.address));
      shown.push(await shownMs(browser, page.address, cookie));
    }
    const wire = await onTheWire(browser, page.address, cookie);
    const scripts = page.assets.filter(({ type }) => type.startsWith('text/javascript'));
    const zipped = scripts.reduce((sum, { text }) => sum + gzipSync(text, { level: 9 }).length, 0);
    const library = scripts
      .filter((a) => a.path === '/page/uplot.js')
      .map((a) => gzipSync(a.text, { level: 9 }).length);
    const drawn = await first.evaluate(drawAnew, { points: POINTS, redraws: REDRAWS });
    const [ours, bare] = [median(drawn.oursMs), median(drawn.bareMs)];
    const kb = (bytes) => `${(bytes / 1000).toFixed(1)} kB`;
    process.stdout.write(
      [
        `The live page in ${found.what}, ${SIZE.width} × ${SIZE.height}`,
        `  first state shown   ${median(shown).toFixed(0)} ms, at worst ${Math.max(...shown).toFixed(0)} ms of ${LOADS} (goal: under ${GOAL.shownMs} ms)`,
        `    an empty page     ${median(peer).toFixed(0)} ms; ratio ${(median(shown) / median(peer)).toFixed(1)}`,
        `  scripts             ${kb(zipped)} gzipped, of which the chart library ${kb(library[0])} (goal: at most ${GOAL.scriptsKb} kB)`,
        `    as they came      ${kb(wire.bytes)} in ${wire.count} files with their headers; ratio ${(wire.bytes / zipped).toFixed(1)}`,
        `  one hour drawn anew ${ours.toFixed(1)} ms, 99 % within ${at99(drawn.oursMs).toFixed(1)} ms; ${drawn.points} points in ${drawn.charts} charts of ${drawn.size} (goal: at most ${GOAL.redrawMs} ms)`,
        `    the bare library  ${bare.toFixed(1)} ms with the same points; ratio ${(ours / bare).toFixed(2)}`,
        '',
      ].join('\n'),
    );
  } finally {
    await browser.close();
    empty.close();
    await page.close();
    rmSync(state, { recursive: true, force: true });
  }
}
