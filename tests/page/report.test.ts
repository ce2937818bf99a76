/**
 * The report in a real browser, from a file, as a person opens it: nothing is asked of any network, nothing complains,
 * every figure has a size, nothing is wider than the page, and it prints on A4.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { linesOf } from '../unit/journal/build.js';
import { journalOf, reported } from '../unit/report-journals.js';
import { BROWSER, launch, NO_BROWSER } from './browser.js';
import {
  A4_PX,
  drawings,
  headings,
  openPage,
  PHONE_PX,
  sheets,
  summaryMm,
  textsOver,
  wider,
} from './looks.js';

describe.skipIf(BROWSER === null)(
  `the report in a browser${BROWSER === null ? ` (${NO_BROWSER})` : ''}`,
  () => {
    let browser: Browser;
    let folder = '';
    const files: Record<string, string> = {};

    beforeAll(async () => {
      folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-page-'));
      browser = await launch();
      const tripped = await journalOf('loop-opened');
      // A name that would act, and one that would not break.
      const odd = linesOf(tripped)
        .map((line) =>
          line
            .replaceAll('"by":"dry-run"', `"by":"<script>document.title='taken'</script>${'W'.repeat(400)}"`)
            .replaceAll('"code":"loop-open"', `"code":"${'code'.repeat(100)}"`),
        )
        .join('');
      const texts = {
        tripped,
        refused: await journalOf('restart-while-latched'),
        odd,
        empty: '',
      };
      for (const [name, text] of Object.entries(texts)) {
        const file = path.join(folder, `${name}.html`);
        writeFileSync(file, (await reported(text)).html);
        files[name] = pathToFileURL(file).href;
      }
    }, 180_000);
    afterAll(async () => {
      await browser?.close();
      rmSync(folder, { recursive: true, force: true });
    });

    const open = (name: string, width: number) => openPage(browser, files[name] as string, width);

    for (const name of ['tripped', 'refused', 'odd', 'empty'])
      it(`asks for nothing but itself, complains of nothing and fits A4: ${name}`, async () => {
        const { page, said, asked } = await open(name, A4_PX);
        expect(said).toEqual([]);
        expect(asked).toEqual([files[name]]);
        expect(await page.title()).toMatch(/^Audit of a charge session/);
        for (const medium of ['screen', 'print'] as const) {
          await page.emulateMedia({ media: medium });
          expect(await wider(page), medium).toEqual([]);
        }
        await page.close();
      });

    it('shows every figure, with nothing of it outside its own frame', async () => {
      const { page } = await open('tripped', A4_PX);
      const figures = await drawings(page);
      expect(figures).toHaveLength(10);
      for (const { id, width, height, outside } of figures) {
        expect(width, id).toBeGreaterThan(600);
        expect(height, id).toBeGreaterThan(150);
        expect(outside, id).toEqual([]);
      }
      await page.close();
    });

    it('writes no text of a figure over another', async () => {
      const { page } = await open('tripped', A4_PX);
      expect(await textsOver(page)).toEqual([]);
      await page.close();
    });

    it('is named for who listens: images, tables and headings in order', async () => {
      const { page } = await open('tripped', A4_PX);
      expect(await page.getByRole('img').count()).toBe(10);
      expect(
        await page.getByRole('img', { name: /^Volts, in V;.*trip at 29\.\d+ by loop-open/ }).count(),
      ).toBe(1);
      expect(await page.getByRole('table', { name: /^Nearest limits/ }).count()).toBe(2);
      const levels = await headings(page);
      expect(levels[0]).toBe(1);
      expect(levels.every((level, i) => i === 0 || level - (levels[i - 1] as number) <= 1)).toBe(true);
      await page.close();
    });

    it('can be read on a telephone without moving the page sideways', async () => {
      const { page } = await open('tripped', PHONE_PX);
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(PHONE_PX);
      await page.close();
    });

    it('prints on A4, the summary on one page', async () => {
      const { page } = await open('tripped', A4_PX);
      const sizes = await sheets(page);
      expect(sizes.length).toBeGreaterThanOrEqual(6);
      for (const [width, height] of sizes) {
        expect(width).toBeCloseTo(595, -1);
        expect(height).toBeCloseTo(842, -1);
      }
      // What comes before the figures fits one page: 297 mm less its margins.
      expect(await summaryMm(page)).toBeLessThan(267);
      await page.close();
    });
  },
);
