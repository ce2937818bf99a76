/**
 * The certificate in a real browser, from a file, as a person opens it: nothing is asked of any network, nothing
 * complains, every figure has a size, nothing is over another or wider than the page, and it prints on A4.
 */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { RunRecord } from '../../src/prove/record.js';
import {
  certificate,
  device,
  measure,
  onItsDay,
  procedure,
  run,
  runsOf,
  step,
  trace,
} from '../unit/certificate/proofs.js';
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

/** As many procedures as are shipped; what is signed must fit one sheet with them. */
const NAMES = Array.from({ length: 13 }, (_, i) => `procedure-${i + 1}`);
const PLOTTED = 3;
const NOTHING = { tMs: [], currentA: [], outputV: [], plugV: [] };
const LONG = 'W'.repeat(400);

/** Everything that can crowd a plot: many things within a few milliseconds, and one far later. */
const crowded = trace({
  events: [
    { tMs: 0, name: 'mark', detail: '', n: 1 },
    { tMs: 1, name: 'relay', detail: 'pilot', n: 2 },
    { tMs: 1, name: 'watchdog', detail: '', n: 3 },
    { tMs: 2, name: 'make-safe', detail: 'ordered', n: 4 },
    { tMs: 2, name: 'supply-tripped', detail: '', n: 5 },
    { tMs: 3, name: 'parted-p', detail: '', n: 6 },
    { tMs: 3, name: 'parted-n', detail: '', n: 7 },
    { tMs: 4, name: 'finding', detail: 'a-code-that-is-rather-long', n: 8 },
    { tMs: 5, name: 'trip', detail: 'a-code-that-is-rather-long', n: 9 },
    { tMs: 6, name: 'stop', detail: '', n: 10 },
    { tMs: 1400, name: 'released', detail: '', n: 11 },
  ],
});

function failing(): RunRecord[] {
  const values = [18, 19, 17, 22, 35, 18, 19, 20, 21, 18, 19, null];
  return runsOf(values, { trace: crowded }).map((r) =>
    r.verdict === 'pass' ? r : { ...r, deviations: ['a relay acted late', 'exit 9, expected 3'] },
  );
}

describe.skipIf(BROWSER === null)(
  `the certificate in a browser${BROWSER === null ? ` (${NO_BROWSER})` : ''}`,
  () => {
    let browser: Browser;
    let folder = '';
    const files: Record<string, string> = {};

    beforeAll(async () => {
      folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-page-'));
      browser = await launch();
      const others = NAMES.map((name) =>
        procedure([step(), step({ step: 'shoes', title: 'By shoes', needs: ['shoes'] })], { name }),
      );
      const proofs = {
        passed: onItsDay({
          procedures: others,
          runs: others.map(({ procedure: p }, index) =>
            run({
              index,
              procedure: p.name,
              journal: `journals/${p.name}.opened.001.ndjson`,
              trace: trace(index < PLOTTED ? {} : NOTHING),
            }),
          ),
          header: { charger: 'simulated' },
        }),
        failed: onItsDay({
          runs: failing().map((r) => ({ ...r, devices: [device({ calibratedOn: 20000101 })] })),
          header: { cases: 20 },
        }),
        odd: onItsDay({
          procedures: [procedure([step({ title: LONG })], { title: LONG, why: LONG })],
          runs: [
            run({
              measures: [measure({ name: LONG, source: LONG })],
              deviations: [LONG],
              journal: `journals/${LONG}`,
              devices: [device({ model: LONG, serial: LONG, firmware: LONG })],
              trace: trace({ events: [{ tMs: 0, name: 'trip', detail: LONG, n: 1 }] }),
            }),
          ],
          header: { charger: `<script>document.title='taken'</script>${LONG}`, software: LONG },
        }),
      };
      for (const [name, proof] of Object.entries(proofs)) {
        const file = path.join(folder, `${name}.html`);
        writeFileSync(file, await certificate(proof));
        files[name] = pathToFileURL(file).href;
      }
    }, 180_000);
    afterAll(async () => {
      await browser?.close();
      rmSync(folder, { recursive: true, force: true });
    });
    const open = (name: string, width = A4_PX) => openPage(browser, files[name] as string, width);

    for (const name of ['passed', 'failed', 'odd'])
      it(`asks for nothing but itself, complains of nothing and fits A4: ${name}`, async () => {
        const { page, said, asked } = await open(name);
        expect(said).toEqual([]);
        expect(asked).toEqual([files[name]]);
        expect(await page.title()).toMatch(/^(Certificate of proof|No certificate): /);
        for (const medium of ['screen', 'print'] as const) {
          await page.emulateMedia({ media: medium });
          expect(await wider(page), medium).toEqual([]);
        }
        await page.close();
      });

    it('shows every figure, current above volts, with nothing of it outside its frame or over another', async () => {
      for (const [name, count] of [
        ['passed', 2 * PLOTTED],
        ['failed', 3],
      ] as const) {
        const { page } = await open(name);
        const drawn = await drawings(page);
        expect(drawn).toHaveLength(count);
        for (const { id, width, height, outside } of drawn) {
          expect(width, id).toBeGreaterThan(600);
          expect(height, id).toBeGreaterThan(/^strip/.test(id) ? 30 : 90);
          expect(outside, id).toEqual([]);
        }
        expect(await textsOver(page)).toEqual([]);
        await page.close();
      }
    });

    it('is named for who listens: images, tables and headings in order', async () => {
      const { page } = await open('failed');
      expect(await page.getByRole('img', { name: /^Current: The loop opens.*TRIP/ }).count()).toBe(1);
      expect(await page.getByRole('table', { name: /^Equipment/ }).count()).toBe(1);
      expect(await page.getByRole('table', { name: /^Figures: The loop opens/ }).count()).toBe(1);
      const levels = await headings(page);
      expect(levels[0]).toBe(1);
      expect(levels.every((level, i) => i === 0 || level - (levels[i - 1] as number) <= 1)).toBe(true);
      await page.close();
    });

    it('can be read on a telephone without moving the page sideways', async () => {
      const { page } = await open('failed', PHONE_PX);
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(PHONE_PX);
      await page.close();
    });

    it('prints on A4, what is signed on one sheet', async () => {
      for (const name of ['passed', 'failed']) {
        const { page } = await open(name);
        const sizes = await sheets(page);
        expect(sizes.length).toBeGreaterThanOrEqual(3);
        for (const [width, height] of sizes) {
          expect(width).toBeCloseTo(595, -1);
          expect(height).toBeCloseTo(842, -1);
        }
        expect(await summaryMm(page)).toBeLessThan(267);
        await page.close();
      }
    });
  },
);
