/** What is drawn and written of a plan: whole, self-contained, with the caution, and nobody's markup in it. */
import { describe, expect, it } from 'vitest';
import { drawDays } from '../../../src/plan/day-draws.js';
import { dayFigures } from '../../../src/plan/day-figures.js';
import { dayReport } from '../../../src/plan/day-report.js';
import { csvText, dayCsv } from '../../../src/plan/day-tables.js';
import { planDay } from '../../../src/plan/plan-day.js';
import { planRoute } from '../../../src/plan/plan-route.js';
import { readPlanning } from '../../../src/plan/planning-file.js';
import { ROUTE } from '../../../src/plan/route.js';
import { routePlot } from '../../../src/plan/route-plot.js';
import { quickStops } from '../../../src/plan/stop-source.js';
import { loadRig } from '../../../src/rig/load.js';
import { callsOf, dayOf, storeOf } from './small-day.js';

const NOTICE = ['LIVE DC KILLS, says the notice.', 'Local codes govern.'];
const calls = [callsOf(['06:30', '06:35'], ['07:30', '07:35'])];
const titled = { title: 'A day of <b>three</b> & more' };

async function reportOf(input: ReturnType<typeof dayOf>) {
  const source = quickStops();
  const plan = await planDay(input, source);
  const drawn = drawDays(input, source, plan.schedule, { seed: 5, days: 2 });
  const report = { plan, input, drawn, seed: 5, notice: NOTICE, software: 'loopwarden test' };
  return { plan, html: await dayReport(report), again: await dayReport(report) };
}

describe('the report on a day', () => {
  const input = dayOf(calls, { day: titled });
  const made = reportOf(input);

  it('carries the caution at both ends, and says whether the day works', async () => {
    const { html } = await made;
    expect(html.match(/LIVE DC KILLS, says the notice\./g)).toHaveLength(2);
    expect(html).toContain('<strong>works</strong>');
  });
  it('is one file: nothing runs in it, nothing is loaded, and texts are no markup', async () => {
    const { html } = await made;
    expect(html).not.toMatch(/<script|<link|<img|src=|@import|url\(/i);
    expect(html.match(/https?:\/\/[^"' <)]*/g) ?? []).toEqual([]);
    expect(html).toContain('A day of &lt;b&gt;three&lt;/b&gt; &amp; more');
    expect(html).not.toContain('<b>three');
  });
  it('shows trains, store, grid, price and cells over the same hours, each told in words too', async () => {
    const { html, plan } = await made;
    for (const id of ['trains-1', 'store', 'grid', 'load', 'price', 'cells-1'])
      expect(html, id).toMatch(
        new RegExp(`<figure id="figure-${id}">[^]*?<svg[^>]*role="img" aria-label="[^"]{30,}"`),
      );
    const axes = dayFigures(plan, input).map(({ chart }) => chart.x.join());
    expect(new Set(axes)).toEqual(new Set(['6,10']));
  });
  it('is the same to the byte when made again', async () => {
    const { html, again } = await made;
    expect(again).toBe(html);
    expect((await reportOf(dayOf(calls, { day: titled }))).html).toBe(html);
  });
  it('of a day that does not work says so first, and why', async () => {
    const { html } = await reportOf(dayOf(calls, { store: storeOf({ capacityKwh: 40 }) }));
    expect(html).toContain('DOES NOT WORK');
    expect(html).toMatch(/<li>the store cannot do it: even charged at its best [\d.]+ kWh are wanting<\/li>/);
  });
});

describe('the tables of a day', () => {
  it('hold the energy of the day in their steps', async () => {
    const input = dayOf(calls);
    const plan = await planDay(input, quickStops());
    const { steps } = dayCsv(plan, input);
    const column = (name: string): number[] => steps!.rows.map((r) => Number(r[steps!.head.indexOf(name)]));
    const hours = input.day.stepS / 3600;
    const sum = (name: string): number => column(name).reduce((total, kw) => total + kw * hours, 0);
    expect(sum('grid_kw')).toBeCloseTo(plan.balance.gridKwh, 3);
    expect(sum('trains_kw')).toBeCloseTo(plan.run.supply.drawnKwh, 3);
    expect(steps!.rows.every((r) => r.length === steps!.head.length)).toBe(true);
  });
  it('quote what would break a row', () => {
    expect(csvText({ head: ['a', 'b'], rows: [['x, "y"', 'z']] })).toBe('a,b\r\n"x, ""y""",z\r\n');
  });
});

describe('the plot of a route', () => {
  it('is one picture with the stops, the limits and the caution', async () => {
    const { rig } = loadRig('terminus-shoes');
    const route = readPlanning(ROUTE, 'tarnholt-ellary').value;
    const plan = planRoute(rig, route, { socFrom: 0.8, ageing: 1, cellC: 20, ambientC: 20 });
    const svg = await routePlot(plan, route, rig, NOTICE);
    expect(svg.match(/^<svg /)).not.toBeNull();
    for (const text of ['fell-summit', 'floor', 'ceiling', 'leave with at most', NOTICE[0]!])
      expect(svg, text).toContain(text);
    expect(svg).not.toContain('NaN');
  });
});
