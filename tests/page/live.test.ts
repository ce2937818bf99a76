/**
 * The live page in a real browser, against the server as the command runs it: whole sessions driven by people, by
 * mouse and by keyboard, refusals, a trip from its fault to the plug that is freed, and who may do what.
 */
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../src/checks/catalogue.js';
import { BROWSER, launch, NO_BROWSER } from './browser.js';
import { Served } from './live-page.js';
import { Seat, type SeatOptions, SOMEBODY } from './seat.js';

/** The browser itself tells of every answer that is no success; the page has shown it. */
const TURNED_DOWN = /^Failed to load resource: the server responded with a status of 40[39]/;

describe.skipIf(BROWSER === null)(
  `the live page, driven by people${BROWSER === null ? ` (${NO_BROWSER})` : ''}`,
  { timeout: 120_000 },
  () => {
    let browser: Browser;
    let served: Served;
    let seats: Seat[] = [];

    beforeAll(async () => {
      browser = await launch();
    }, 200_000);
    afterAll(() => browser?.close());
    beforeEach(async () => {
      served = await Served.start(60);
      seats = [];
    });
    afterEach(async () => {
      const told = seats.map(({ said, elsewhere }) => ({ said, elsewhere }));
      for (const seat of seats) await seat.leave();
      await served.close();
      for (const { said, elsewhere } of told) {
        expect(said.filter((text) => !TURNED_DOWN.test(text))).toEqual([]);
        expect(elsewhere).toEqual([]);
      }
    });

    const seat = async (options: SeatOptions = {}): Promise<Seat> => {
      const taken = await Seat.take(browser, served, options);
      seats.push(taken);
      return taken;
    };

    it('a whole session by clicks: signed in, in control, a wish, released', async () => {
      const p = await (await seat()).signIn();
      expect(await p.page.evaluate(() => location.href)).toBe(served.address);
      // A browser with tabs asks for it, and complains of one that is not there.
      const icon = await p.page.evaluate(async () =>
        (await fetch(document.querySelector<HTMLLinkElement>('link[rel=icon]')?.href ?? '')).headers.get(
          'content-type',
        ),
      );
      expect(icon).toMatch(/^image\/svg/);
      await p.sees('nothing ordered');
      await p.takeControl();
      await p.start({ Energy: '1', 'Most current': '200' });
      await served.inPhase('holding');
      served.bench.speed = 5;
      await p.sees('LIVE');
      await p.sees(/least limit 200\.0 A/);
      await p.sees(/set-point 200\.0 A/);
      await p.button('Sample pilot').click();
      await p.page.getByRole('img', { name: 'Pilot current as sampled' }).waitFor();
      served.bench.speed = 60;
      await served.atRest();
      await p.sees(/Last session: Released \(target, exit 0\) · 1\.\d\d kWh/);
      await p.sees('plug freed');
      await p.hasAllEvents();
      expect(await p.rows()).toEqual(served.events.map((e) => e.id));
      expect(await p.refusals.count()).toBe(0);
      expect(p.said).toEqual([]);
      expect(served.records('setup')[0]).toMatchObject({
        wish: { targetEnergyKwh: 1, maxCurrentA: 200 },
      });
      expect(served.records('end')[0]).toMatchObject({ outcome: 'released' });
      expect(served.bench.latch).toMatchObject({ trip: null, open: null });
    });

    it('a whole session by keyboard alone', async () => {
      const p = await seat();
      const { keyboard } = p.page;
      const focused = () =>
        p.page.evaluate(() => {
          const e = document.activeElement;
          return (
            e?.getAttribute('aria-label') ??
            (e as HTMLInputElement)?.labels?.[0]?.textContent ??
            e?.textContent
          );
        });
      /** Goes on with Tab until it stands there. */
      const tabTo = async (name: string): Promise<void> => {
        const passed: unknown[] = [];
        while ((await focused()) !== name) {
          if (passed.length > 40) throw new Error(`Tab never comes to ${name}: ${passed.join(' | ')}`);
          passed.push(await focused());
          await keyboard.press('Tab');
        }
      };
      await p.come();
      // The name has the focus at once.
      await keyboard.type(SOMEBODY);
      await keyboard.press('Enter');
      await p.glance.waitFor();
      await keyboard.press('?');
      await p.page.getByRole('dialog', { name: 'Keys' }).waitFor();
      await keyboard.press('Escape');
      await p.page.getByRole('dialog', { name: 'Keys' }).waitFor({ state: 'hidden' });
      await p.button('Take control').waitFor();
      await keyboard.press('p');
      await tabTo('Take control');
      await keyboard.press('Enter');
      await p.button('Release control').waitFor();
      await keyboard.press('o');
      await tabTo('EnergykWh');
      await keyboard.type('50');
      await keyboard.press('Enter');
      await served.inPhase('holding');
      served.bench.speed = 5;
      await p.sees('LIVE');
      await tabTo('Stop');
      await keyboard.press('Space');
      await served.inPhase('ramping-down');
      served.bench.speed = 60;
      await served.atRest();
      await p.sees(/Last session: Released \(/);
      await keyboard.press('g');
      await keyboard.press('ArrowLeft');
      await p.readout.filter({ hasText: /^Cursor at / }).waitFor();
      expect(served.orders).toMatchObject([{ order: 'stop', by: SOMEBODY }]);
      expect(served.records('end')[0]).toMatchObject({ outcome: 'released' });
      expect(p.said).toEqual([]);
    });

    it('the plug asked for under current: refused, with what would permit it, and on record by name', async () => {
      const p = await (await (await seat()).signIn()).takeControl();
      await p.startAndHold();
      await p.button('Free plug').click();
      const card = p.refusals.first();
      await card.getByRole('heading', { name: 'Refused: free-plug' }).waitFor();
      await served.until('on record', () => served.records('refusal').length === 1);
      const told = served.records('refusal')[0] as { text: string; remedy: string; by: string };
      expect(told.by).toBe(SOMEBODY);
      expect(told.remedy.length).toBeGreaterThan(10);
      const shown = await card.textContent();
      expect(shown).toContain(`Asked by${SOMEBODY}`);
      expect(shown).toContain(`What would permit it${told.remedy}`);
      expect(shown).toContain(told.text);
      const row = p.events.filter({ hasText: `REFUSED free-plug by ${SOMEBODY}` });
      await row.waitFor();
      expect(await row.textContent()).toContain(told.remedy);
      expect(await p.refusals.count()).toBe(1);
      // It is still locked, and the session goes on.
      expect(served.plugLocked).toBe(true);
      expect(served.phase).toBe('holding');
      await p.page.keyboard.press('Escape');
      await card.waitFor({ state: 'detached' });
      expect(await row.count()).toBe(1);
    });

    it('a crushed cable under current: tripped, first-out marked, taken back, acknowledged by name, freed', async () => {
      const p = await (await (await seat()).signIn()).takeControl();
      await p.startAndHold();
      await p.makeFault('loop crush');
      await p.alert(`Tripped: ${CATALOGUE['loop-crushed'].text}`).waitFor();
      await p.sees('TRIPPED');
      served.bench.speed = 60;
      await served.atRest();
      await p.sees(/Last session: Tripped \(loop crushed, exit 3\)/);
      await p.hasAllEvents();
      const first = p.events.filter({ hasText: 'came first' });
      expect(await first.count()).toBe(1);
      expect(await first.textContent()).toMatch(/TRIP in holding: loop-crushed/);
      expect(await first.textContent()).toMatch(/→ ./);
      expect(served.bench.latch.trip).toMatchObject({ code: 'loop-crushed', provenDead: true });

      // Before it is acknowledged nothing starts.
      await p.start();
      await p.refusals.filter({ hasText: 'Refused: start' }).first().waitFor();
      await served.atRest();
      expect(served.bench.latch.trip).not.toBeNull();

      await p.button('Take all faults back').click();
      await p.part('Simulated bench').getByText('No fault stands').waitFor();
      await p.button(`Acknowledge as ${SOMEBODY}`).click();
      await served.until('acknowledged', () => served.bench.latch.trip === null);
      expect(served.bench.latch.acknowledged).toMatchObject({ by: SOMEBODY, code: 'loop-crushed' });
      await served.atRest();
      await p.alert('Tripped').waitFor({ state: 'hidden' });
      expect(served.plugLocked).toBe(true);
      await p.button('Free plug').click();
      await served.until('the plug is free', () => !served.plugLocked);
      await p.events.filter({ hasText: 'free-plug carried out' }).waitFor();
      await served.atRest();
      await p.hasAllEvents();
      expect(await p.rows()).toEqual(served.events.map((e) => e.id));
    });

    it('loaded again in the middle of a session: it goes on, nothing twice, the traces whole', async () => {
      const p = await (await (await seat()).signIn()).takeControl();
      await p.startAndHold(10);
      await p.page.reload();
      await p.sees('the least limit governs');
      await p.button('Release control').waitFor();
      await p.hasAllEvents();
      expect(await p.rows()).toEqual(served.events.map((e) => e.id));
      // Standing still, so that what is read does not move on in between.
      await p.page.keyboard.press('f');
      expect(await p.page.getByRole('checkbox', { name: 'Follow' }).isChecked()).toBe(false);
      // Before the reload, before the current: the cursor goes back to a point that only the server still had.
      await p
        .part('Traces')
        .getByRole('group', { name: /^Charts/ })
        .focus();
      for (let i = 0; i < 6; i++) await p.page.keyboard.press('ArrowLeft');
      await p.drawn();
      const words = await p.readout.filter({ hasText: /^Cursor at / }).textContent();
      const [, min, s] = words?.match(/^Cursor at (\d+):(\d+\.\d+)/) ?? [];
      const atMs = Math.round(Number(min) * 60_000 + Number(s) * 1000);
      const point = served.points.find(([at]) => Math.abs((at as number) - atMs) <= 1);
      const [outputV] = await p.part('Traces').getByRole('definition').allTextContents();
      expect(outputV).toBe(`${point?.[1]?.toFixed(1)} V`);
      expect(atMs).toBeLessThan((served.points.at(-1)?.[0] as number) - 10_000);
      expect(served.phase).toBe('holding');
      expect(served.journals).toHaveLength(1);
      await p.button('Stop').click();
      served.bench.speed = 60;
      await served.atRest();
      await p.sees(/Last session: Released/);
      expect(p.said).toEqual([]);
    });

    it('two people, one hand-over: offered, accepted, and then the first one is refused', async () => {
      const first = await (await (await seat()).signIn()).takeControl();
      const second = await (await seat({ name: 'R. Okafor' })).signIn({ role: 'operator' });
      await first.startAndHold();
      await second.sees('the least limit governs');
      await second.part('People and control').getByText(`${SOMEBODY} engineer, holds control`).waitFor();
      // Not without being offered it.
      await second.button(`Take control from ${SOMEBODY}`).click();
      await second.refusals.filter({ hasText: `${SOMEBODY} holds control` }).waitFor();
      expect(served.control).toBe(SOMEBODY);
      await first.page.getByRole('combobox', { name: 'Offer control to' }).selectOption('R. Okafor');
      await first.button('Offer control to').click();
      await second.button('Accept control').click();
      await second.button('Release control').waitFor();
      expect(served.control).toBe('R. Okafor');
      await first.page.getByText('R. Okafor holds control: your orders will be refused').waitFor();

      await first.button('Stop').click();
      const card = first.refusals.filter({ hasText: 'Refused: stop' });
      await card.filter({ hasText: 'R. Okafor holds control' }).waitFor();
      expect(served.phase).toBe('holding');
      expect(served.orders).toEqual([]);
      await second.button('Stop').click();
      served.bench.speed = 60;
      await served.atRest();
      expect(served.orders).toMatchObject([{ order: 'stop', by: 'R. Okafor' }]);
      await first.sees(/Last session: Released/);
      await second.sees(/Last session: Released/);
    });

    it('a watcher may trip now, and nothing else', async () => {
      const p = await (await (await seat()).signIn()).takeControl();
      await p.startAndHold();
      const watcher = await (await seat({ name: 'L. Mbeki' })).signIn({ role: 'watcher' });
      await watcher.sees('the least limit governs');
      await watcher.page.getByText('You are watching. Trip now is yours too').waitFor();
      expect(await watcher.page.getByRole('form').count()).toBe(0);
      const buttons = await watcher.page.getByRole('button').allInnerTexts();
      expect(
        buttons.filter((b) => /start|stop|limit|plug|acknowledge|control|fault|train|invite/i.test(b)),
      ).toEqual([]);
      await watcher.button('Trip now').click();
      await watcher.alert('Tripped').waitFor();
      await p.alert('Tripped').waitFor();
      served.bench.speed = 60;
      await served.atRest();
      expect(served.orders).toMatchObject([{ order: 'trip-now', by: 'L. Mbeki' }]);
      expect(served.bench.latch.trip).toMatchObject({ provenDead: true });
    });
  },
);
