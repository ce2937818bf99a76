/**
 * The live page when something between it and the charger fails: a line that carries nothing, a server that is lost
 * and comes back, a proxy and a browser that are killed. The page says so; the session does not notice.
 */
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { BROWSER, launch, launchToKill, NO_BROWSER } from './browser.js';
import { CutLine } from './cut-line.js';
import { Served } from './live-page.js';
import { Seat, type SeatOptions } from './seat.js';

const LOST = /^No connection to the server: everything below is old/;
/** What a browser tells of a line that is gone; nothing of it comes from the page. */
const LINE_GONE = /^Failed to load resource: (net::ERR_|the server responded with a status of 401)/;

describe.skipIf(BROWSER === null)(
  `the live page, cut off${BROWSER === null ? ` (${NO_BROWSER})` : ''}`,
  { timeout: 120_000 },
  () => {
    let browser: Browser;
    let served: Served;
    let line: CutLine;
    let seats: Seat[] = [];

    beforeAll(async () => {
      browser = await launch();
    }, 200_000);
    afterAll(() => browser?.close());
    beforeEach(async () => {
      served = await Served.start(60);
      line = await CutLine.before(served.port);
      seats = [];
    });
    afterEach(async () => {
      line.flow();
      const told = seats.map(({ said, elsewhere }) => ({ said, elsewhere }));
      for (const seat of seats) await seat.leave();
      await line.cut();
      await served.close();
      for (const { said, elsewhere } of told) {
        expect(said.filter((text) => !LINE_GONE.test(text))).toEqual([]);
        expect(elsewhere).toEqual([]);
      }
    });

    const seat = async (options: SeatOptions = {}): Promise<Seat> => {
      const taken = await Seat.take(browser, served, options);
      seats.push(taken);
      return taken.signIn(options);
    };
    const released = async (): Promise<void> => {
      served.bench.speed = 60;
      await served.atRest();
      expect(served.records('end')).toMatchObject([{ outcome: 'released' }]);
      expect(served.bench.latch).toMatchObject({ trip: null, open: null });
    };

    it('a line that carries nothing stops neither the session nor the others, and later has missed nothing', async () => {
      const slow = await seat({ name: 'L. Mbeki', role: 'watcher', byProxy: true });
      const p = await (await seat()).takeControl();
      await p.startAndHold();
      await slow.sees('the least limit governs');
      line.stall();
      const atS = served.bench.sessionMs;
      await p.form('Limit current').getByRole('spinbutton', { name: 'No more than' }).fill('40');
      await p.button('Limit').click();
      await p.sees(/least limit 40\.0 A: operator/);
      // Silence alone is told, with nothing closed.
      await slow.alert(LOST).waitFor();
      expect(await p.alert(LOST).count()).toBe(0);
      expect(served.bench.sessionMs).toBeGreaterThan(atS);
      await p.button('Stop').click();
      await released();
      await p.sees(/Last session: Released/);
      expect(await slow.glance.textContent()).not.toContain('Released');

      line.flow();
      await slow.sees(/Last session: Released/);
      await slow.alert(LOST).waitFor({ state: 'hidden' });
      await slow.hasAllEvents();
      expect(await slow.rows()).toEqual(served.events.map((e) => e.id));
    });

    it('a server that is lost and comes back: said plainly, the readings old, nothing missing afterwards', async () => {
      const p = await (await seat({ byProxy: true })).takeControl();
      await p.startAndHold();
      await line.cut();
      await p.alert(LOST).waitFor();
      await p.page.getByText(/^last heard \d+ s ago, at session time \d+:\d\d$/).waitFor();
      expect(await p.page.getByText('The charger goes on without this page').isVisible()).toBe(true);
      // What is asked meanwhile is not done, and the page does not say that it was.
      await p.button('Stop').click();
      await p.part('Orders').getByText('No answer: stop the charge.').waitFor();
      await p.refusals
        .filter({ hasText: 'No answer: stop the charge' })
        .filter({ hasText: 'Whether this has reached it is not known' })
        .waitFor();
      expect(served.phase).toBe('holding');
      // Something happens that nobody here hears of.
      const before = served.events.length;
      served.bench.person({ order: 'limit-current', by: 'R. Okafor', currentA: 90 });
      await served.until('another limit binds', () => served.events.length > before);

      await line.mend();
      await p.alert(LOST).waitFor({ state: 'hidden' });
      await p.sees(/least limit 90\.0 A: operator/);
      await p.button('Stop').click();
      await released();
      await p.sees(/Last session: Released/);
      await p.hasAllEvents();
      expect(await p.rows()).toEqual(served.events.map((e) => e.id));
      expect(served.orders.map(({ order }) => order)).toEqual(['limit-current', 'stop']);
    });

    it('an order whose answer is lost may have been taken: the page does not say that it was not', async () => {
      const p = await (await seat({ byProxy: true })).takeControl();
      await p.startAndHold();
      line.stall();
      await p.button('Stop').click();
      await served.until('the order is taken', () => served.phase !== 'holding');
      await line.cut();
      await p.part('Orders').getByText('No answer: stop the charge. It may have been taken').waitFor();
      expect(await p.part('Orders').getByText('Not taken').count()).toBe(0);
      line.flow();
      await line.mend();
      await released();
      await p.sees(/Last session: Released/);
    });

    it('a server that was started anew knows nobody: the page asks to sign in and shows nothing old', async () => {
      const p = await (await seat()).takeControl();
      await p.startAndHold();
      await served.restart();
      await p.page.getByRole('heading', { name: 'You are not signed in' }).waitFor();
      expect(await p.glance.isVisible()).toBe(false);
      expect(served.phase).toBe('holding');
      await p.signIn();
      await p.sees('the least limit governs');
      await p.takeControl();
      await p.button('Stop').click();
      await released();
    });

    it('a proxy and then the browser killed: the session goes on to its end, and another page sees it', async () => {
      const { browser: doomed, server } = await launchToKill();
      const p = await Seat.take(doomed, served);
      await p.signIn({ byProxy: true });
      await p.takeControl();
      served.bench.speed = 60;
      await p.start({ Energy: '1.5' });
      await served.inPhase('holding');
      served.bench.speed = 5;
      await p.sees('the least limit governs');
      await line.cut();
      await p.alert(LOST).waitFor();
      expect(served.phase).toBe('holding');
      const pid = server.process().pid as number;
      process.kill(pid, 'SIGKILL');
      await served.until('the browser is gone', () => !doomed.isConnected());
      const beforeMs = served.bench.sessionMs;
      await served.until('it goes on', () => served.bench.sessionMs > beforeMs + 1000);
      expect(served.phase).toBe('holding');
      await released();
      expect(served.records('end')).toMatchObject([{ endReason: 'target' }]);
      expect(served.orders).toEqual([]);
      const other = await seat({ name: 'R. Okafor' });
      await other.sees(/Last session: Released \(target, exit 0\)/);
      await other.hasAllEvents();
      expect(await other.rows()).toEqual(served.events.map((e) => e.id));
    });
  },
);
