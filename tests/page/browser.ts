/** A real browser for what people look at, where this machine has one. */
import { existsSync } from 'node:fs';
import { type Browser, chromium } from 'playwright-core';

const PLACES = [process.env.CHROMIUM ?? '', '/usr/bin/chromium', '/usr/bin/chromium-browser'];

/** null where there is none: the tests that need it are then skipped, saying so. */
export const BROWSER = PLACES.find((place) => place !== '' && existsSync(place)) ?? null;
export const NO_BROWSER =
  'no browser: none at /usr/bin/chromium or /usr/bin/chromium-browser, and CHROMIUM names none';

export const launch = (): Promise<Browser> =>
  chromium.launch({
    executablePath: BROWSER as string,
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
