/** How a page for paper must look in a real browser, whatever it tells: asked of the page itself. */
/// <reference lib="dom" />
/// <reference lib="dom.iterable" />
import type { Browser, Page } from 'playwright-core';

/** A4 between its margins of 14 mm, at 96 px an inch. */
export const A4_PX = Math.floor((182 / 25.4) * 96);
export const PHONE_PX = 360;

export interface Opened {
  readonly page: Page;
  /** What it complained of. */
  readonly said: string[];
  /** What it asked for, itself included. */
  readonly asked: string[];
}

export async function openPage(browser: Browser, url: string, width: number): Promise<Opened> {
  const page = await browser.newPage({ viewport: { width, height: 1000 } });
  const said: string[] = [];
  const asked: string[] = [];
  page.on('console', (message) => said.push(message.text()));
  page.on('pageerror', (error) => said.push(error.message));
  page.on('request', (request) => asked.push(request.url()));
  await page.goto(url);
  return { page, said, asked };
}

/** Elements that stick out of the page, by their tag and text. */
export const wider = (page: Page): Promise<string[]> =>
  page.evaluate(() => {
    const edge = document.documentElement.clientWidth + 0.5;
    return [...document.querySelectorAll('body *')]
      .filter((e) => e.closest('svg') === null || e.tagName === 'svg')
      .filter((e) => e.getBoundingClientRect().right > edge)
      .map((e) => `${e.tagName} ${(e.textContent ?? '').slice(0, 40)}`);
  });

export interface Drawn {
  readonly id: string;
  readonly width: number;
  readonly height: number;
  /** Texts outside its own frame. */
  readonly outside: readonly (string | null)[];
}

/** Every image of every figure. */
export const drawings = (page: Page): Promise<Drawn[]> =>
  page.evaluate(() =>
    [...document.querySelectorAll('figure svg')].map((svg) => {
      const frame = svg.getBoundingClientRect();
      const outside = [...svg.querySelectorAll('text')]
        .map((text) => ({ text: text.textContent, box: text.getBoundingClientRect() }))
        .filter(
          ({ box }) => box.right > frame.right + 1 || box.left < frame.left - 1 || box.top < frame.top - 1,
        )
        .map(({ text }) => text);
      const id = svg.closest('figure')?.id ?? '';
      return { id, width: frame.width, height: frame.height, outside };
    }),
  );

/**
 * Texts of figures that are written over one another: their letters, since the box of a text is as tall as its font
 * wishes, and fonts differ from machine to machine.
 */
export const textsOver = (page: Page): Promise<string[]> =>
  page.evaluate(() => {
    const letters = (text: SVGTextElement): { top: number; bottom: number; left: number; right: number } => {
      const box = text.getBoundingClientRect();
      const onScreen = text.getScreenCTM();
      if (onScreen === null || Math.abs(onScreen.b) > 0.01 || text.getNumberOfChars() === 0) return box;
      const baseline = text.getStartPositionOfChar(0).matrixTransform(onScreen).y;
      const em = Number.parseFloat(getComputedStyle(text).fontSize) * onScreen.d;
      const { left, right } = box;
      return { left, right, top: baseline - 0.75 * em, bottom: baseline + 0.22 * em };
    };
    return [...document.querySelectorAll('figure svg')].flatMap((svg) => {
      // A note is drawn twice: its halo in white, then itself.
      const texts = [...svg.querySelectorAll('text')].filter((t) => t.getAttribute('stroke') === null);
      const boxes = texts.map((t) => ({ text: t.textContent ?? '', box: letters(t) }));
      return boxes.flatMap((a, i) =>
        boxes
          .slice(i + 1)
          .filter(
            (b) =>
              a.text !== '' &&
              b.text !== '' &&
              Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left) > 1 &&
              Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top) > 1,
          )
          .map((b) => `${svg.parentElement?.id}: ${a.text} | ${b.text}`),
      );
    });
  });

/** Levels of the headings, in order. */
export const headings = (page: Page): Promise<number[]> =>
  page.evaluate(() => [...document.querySelectorAll('h1,h2,h3')].map((h) => Number(h.tagName[1])));

/** Sizes of the sheets, in points: a page tree of a PDF names each once. */
export async function sheets(page: Page): Promise<(readonly [width: number, height: number])[]> {
  await page.emulateMedia({ media: 'print' });
  const pdf = (await page.pdf({ preferCSSPageSize: true })).toString('latin1');
  return [...pdf.matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/g)].map(
    (m) => [Number(m[1]), Number(m[2])] as const,
  );
}

/** Where the first page ends, mm from its top, as printed. */
export const summaryMm = (page: Page): Promise<number> =>
  page.evaluate(() => {
    const end = document.querySelector('#summary')?.getBoundingClientRect().bottom ?? Number.NaN;
    return ((end + window.scrollY) / 96) * 25.4;
  });

/**
 * What is written, and what can be pressed, that lies over something else of the kind; each cut to what is seen of it
 * through what scrolls around it. Of a text its letters count, not the room its font asks for.
 */
export const overlapping = (page: Page): Promise<string[]> =>
  page.evaluate(() => {
    interface Seen {
      readonly of: Element;
      readonly text: string;
      readonly left: number;
      readonly right: number;
      readonly top: number;
      readonly bottom: number;
    }
    /** Of the height of a line, above and below its letters. */
    const ROOM = 0.22;
    const seen: Seen[] = [];
    const put = (of: Element, text: string, box: DOMRect, room: number): void => {
      let [left, right] = [box.left, box.right];
      let [top, bottom] = [box.top + room * box.height, box.bottom - room * box.height];
      for (let e = of.parentElement; e !== null; e = e.parentElement) {
        if (getComputedStyle(e).overflowY === 'visible') continue;
        const frame = e.getBoundingClientRect();
        [left, right] = [Math.max(left, frame.left), Math.min(right, frame.right)];
        [top, bottom] = [Math.max(top, frame.top), Math.min(bottom, frame.bottom)];
      }
      if (right - left > 1 && bottom - top > 1) seen.push({ of, text, left, right, top, bottom });
    };
    const shown = (e: Element): boolean =>
      e.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true }) && e.closest('#skips') === null;
    for (const e of document.querySelectorAll('button, input, select'))
      if (shown(e))
        put(
          e,
          `[${e.textContent || e.getAttribute('aria-label') || e.tagName}]`,
          e.getBoundingClientRect(),
          0,
        );
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node = texts.nextNode(); node !== null; node = texts.nextNode()) {
      const of = node.parentElement as Element;
      const text = (node.textContent ?? '').trim();
      if (text === '' || of.closest('option, noscript, script, button') !== null || !shown(of)) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const box of range.getClientRects()) put(of, text, box, ROOM);
    }
    return seen.flatMap((a, i) =>
      seen
        .slice(i + 1)
        .filter(
          (b) =>
            !(a.of !== b.of && (a.of.contains(b.of) || b.of.contains(a.of)) && a.text.startsWith('[')) &&
            Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 &&
            Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1,
        )
        .map((b) => `${a.text.slice(0, 50)} | ${b.text.slice(0, 50)}`),
    );
  });
