/**
 * How the live page looks in the states people meet, light and dark, on a screen of the workshop and on a tablet both
 * ways: the caution in sight, nothing over anything else, and nothing serious by the rules of accessibility.
 * `SCREENSHOTS` names a folder for pictures of all of it; `npm run screenshots` puts them into out/screenshots.
 */
import { mkdirSync } from 'node:fs';
import path from 'node:path';
import { AxeBuilder } from '@axe-core/playwright';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BROWSER, launch, NO_BROWSER } from './browser.js';
import { Served } from './live-page.js';
import { overlapping, wider } from './looks.js';
import { Seat, WORKSHOP } from './seat.js';

const FOLDER = process.env.SCREENSHOTS;
const SCREENS = [WORKSHOP, { width: 1024, height: 768 }, { width: 768, height: 1024 }];
const SCHEMES = ['light', 'dark'] as const;

/** Each follows from the one before it: one session, refused an order under current, then tripped. */
const STATES: readonly { name: string; reach: (p: Seat, served: Served) => Promise<void> }[] = [
  { name: 'parked', reach: (p) => p.sees('nothing ordered') },
  { name: 'charging', reach: (p) => p.startAndHold(1) },
  {
    name: 'refused',
    reach: async (p) => {
      await p.button('Free plug').click();
      await p.refusals.filter({ hasText: 'Refused: free-plug' }).waitFor();
    },
  },
  {
    name: 'tripped',
    reach: async (p, served) => {
      await p.button('Dismiss').click();
      await p.makeFault('loop crush');
      await p.alert('Tripped').waitFor();
      served.bench.speed = 10;
      await served.inPhase('safe');
      await p.sees('tripped and proven safe');
    },
  },
];

describe.skipIf(BROWSER === null)(
  `how the live page looks${BROWSER === null ? ` (${NO_BROWSER})` : ''}`,
  { timeout: 120_000 },
  () => {
    let browser: Browser;
    let served: Served;
    let p: Seat;

    beforeAll(async () => {
      browser = await launch();
      served = await Served.start(60);
      p = await (await (await Seat.take(browser, served)).signIn()).takeControl();
      if (FOLDER !== undefined) mkdirSync(FOLDER, { recursive: true });
    }, 200_000);
    afterAll(async () => {
      await browser?.close();
      await served?.close();
    });

    const picture = async (name: string): Promise<void> => {
      if (FOLDER !== undefined) await p.page.screenshot({ path: path.join(FOLDER, `${name}.png`) });
    };
    /** In the window in full, and not under anything. */
    const inSight = async (words: RegExp): Promise<boolean> =>
      p.page
        .getByRole('banner')
        .getByText(words)
        .evaluate((e) => {
          const box = e.getBoundingClientRect();
          const [x, y] = [(box.left + box.right) / 2, (box.top + box.bottom) / 2];
          const inside =
            box.top >= 0 && box.left >= 0 && box.bottom <= innerHeight && box.right <= innerWidth;
          return inside && e.contains(document.elementFromPoint(x, y));
        });

    for (const { name, reach } of STATES)
      describe(name, () => {
        beforeAll(() => reach(p, served), 120_000);

        for (const viewport of SCREENS) {
          const size = `${viewport.width}x${viewport.height}`;
          it(`${size}: the caution in sight, nothing over anything else, nothing beside the page`, async () => {
            await p.page.setViewportSize(viewport);
            await p.page.evaluate(() => scrollTo(0, 0));
            await p.drawn();
            await picture(`${name}-${size}`);
            expect(await overlapping(p.page)).toEqual([]);
            expect(await wider(p.page)).toEqual([]);
            for (const bottom of [false, true]) {
              if (bottom) await p.page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
              await p.drawn();
              expect(await inSight(/^LIVE DC KILLS\. This is not a safety function/)).toBe(true);
              expect(await inSight(/^Not the emergency stop/)).toBe(true);
              expect(await inSight(/^Trip now$/)).toBe(true);
            }
            if (viewport !== WORKSHOP) await picture(`${name}-${size}-below`);
          });
        }
        for (const scheme of SCHEMES)
          it(`${scheme}: nothing serious by the rules of accessibility`, async () => {
            await p.page.setViewportSize(WORKSHOP);
            await p.page.evaluate(() => scrollTo(0, 0));
            await p.page.emulateMedia({ colorScheme: scheme });
            await p.drawn();
            if (scheme === 'dark') await picture(`${name}-dark`);
            const { violations, passes } = await new AxeBuilder({ page: p.page })
              .setLegacyMode(true)
              .analyze();
            await p.page.emulateMedia({ colorScheme: 'light' });
            expect(
              violations
                .filter(({ impact }) => impact === 'serious' || impact === 'critical')
                .map(({ id, nodes }) => `${id}: ${nodes.map((n) => n.target.join(' ')).join(', ')}`),
            ).toEqual([]);
            expect(passes.map(({ id }) => id)).toContain('color-contrast');
          });
      });

    it('complained of nothing and asked nobody else for anything', () => {
      expect(p.said).toEqual([]);
      expect(p.elsewhere).toEqual([]);
    });
  },
);
