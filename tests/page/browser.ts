/** A real browser for what people look at, where this machine has one. */
import { type Browser, chromium } from 'playwright-core';
import { FLAGS, findBrowser } from './chromium.mjs';

const found = await findBrowser();

/** null where there is none: the tests that need it are then skipped, saying so. */
export const BROWSER = found.why === undefined ? found.executablePath : null;
export const NO_BROWSER = found.why ?? '';

export function launch(): Promise<Browser> {
  if (found.why !== undefined) throw new Error(found.why);
  return chromium.launch({
    executablePath: found.executablePath,
    env: { ...process.env, ...found.env } as Record<string, string>,
    args: [...FLAGS],
  });
}
