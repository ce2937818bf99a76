/**
 * The report in a real browser, from a file, as a person opens it: nothing is asked of any network, nothing complains,
 * every figure has a size, nothing is wider than the page, and it prints on A4.
 */
/// <reference lib="dom" />
/// <reference lib="dom.iterable" />
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { linesOf } from '../unit/journal/build.js';
import { journalOf, reported } from '../unit/report-journals.js';
import { BROWSER, launch, NO_BROWSER } from './browser.js';

/** A4 between its margins of 14 mm, at 96 px an inch. */
const A4_PX = Math.floor((182 / 25.4) * 96);
const PHONE_PX = 360;

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

    async function open(
      name: string,
      width: number,
    ): Promise<{ page: Page; said: string[]; asked: string[] }> {
      const page = await browser.newPage({ viewport: { width, height: 1000 } });
      const said: string[] = [];
      const asked: string[] = [];
      page.on('console', (message) => said.push(message.text()));
      page.on('pageerror', (error) => said.push(error.message));
      page.on('request', (request) => asked.push(request.url()));
      await page.goto(files[name] as string);
      return { page, said, asked };
    }

    /** Elements that stick out of the page, by their tag and text. */
    const wider = (page: Page): Promise<string[]> =>
      page.evaluate(() => {
        const edge = document.documentElement.clientWidth + 0.5;
        return [...document.querySelectorAll('body *')]
          .filter((e) => e.closest('svg') === null || e.tagName === 'svg')
          .filter((e) => e.getBoundingClientRect().right > edge)
          .map((e) => `${e.tagName} ${(e.textContent ?? '').slice(0, 40)}`);
      });

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
      const figures = await page.evaluate(() =>
        [...document.querySelectorAll('figure')].map((figure) => {
          const svg = figure.querySelector('svg');
          const frame = svg?.getBoundingClientRect();
          const texts = [...(svg?.querySelectorAll('text') ?? [])].map((text) => ({
            text: text.textContent,
            box: text.getBoundingClientRect(),
          }));
          const outside = texts
            .filter(
              ({ box }) => frame === undefined || box.right > frame.right + 1 || box.left < frame.left - 1,
            )
            .concat(texts.filter(({ box }) => frame !== undefined && box.top < frame.top - 1))
            .map(({ text }) => text);
          return { id: figure.id, width: frame?.width ?? 0, height: frame?.height ?? 0, outside };
        }),
      );
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
      const over = await page.evaluate(() =>
        [...document.querySelectorAll('figure svg')].flatMap((svg) => {
          // A note is drawn twice: its halo in white, then itself.
          const texts = [...svg.querySelectorAll('text')].filter((t) => t.getAttribute('stroke') === null);
          const boxes = texts.map((t) => ({ text: t.textContent ?? '', box: t.getBoundingClientRect() }));
          return boxes.flatMap((a, i) =>
            boxes
              .slice(i + 1)
              .filter(
                (b) =>
                  a.text !== '' &&
                  b.text !== '' &&
                  Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left) > 1 &&
                  // Boxes of text are taller than its letters.
                  Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top) > 3,
              )
              .map((b) => `${svg.parentElement?.id}: ${a.text} | ${b.text}`),
          );
        }),
      );
      expect(over).toEqual([]);
      await page.close();
    });

    it('is named for who listens: images, tables and headings in order', async () => {
      const { page } = await open('tripped', A4_PX);
      expect(await page.getByRole('img').count()).toBe(10);
      expect(
        await page.getByRole('img', { name: /^Volts, in V;.*trip at 29\.\d+ by loop-open/ }).count(),
      ).toBe(1);
      expect(await page.getByRole('table', { name: /^Nearest limits/ }).count()).toBe(2);
      const levels = await page.evaluate(() =>
        [...document.querySelectorAll('h1,h2,h3')].map((h) => Number(h.tagName[1])),
      );
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
      await page.emulateMedia({ media: 'print' });
      const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
      // Size of A4 in points; a page tree names each page once.
      const boxes = [...pdf.matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/g)].map((m) => [
        m[1],
        m[2],
      ]);
      expect(boxes.length).toBeGreaterThanOrEqual(6);
      for (const [width, height] of boxes) {
        expect(Number(width)).toBeCloseTo(595, -1);
        expect(Number(height)).toBeCloseTo(842, -1);
      }
      // What comes before the figures fits one page: 297 mm less its margins.
      const summaryMm = await page.evaluate(() => {
        const end = document.querySelector('#summary')?.getBoundingClientRect().bottom ?? Number.NaN;
        return ((end + window.scrollY) / 96) * 25.4;
      });
      expect(summaryMm).toBeLessThan(267);
      await page.close();
    });
  },
);
