/** A real browser for what people look at, where this machine has one. */
import { type Browser, type BrowserServer, chromium } from 'playwright-core';
import { FLAGS, findBrowser } from './chromium.mjs';

const found = await findBrowser();

/** null where there is none: the tests that need it are then skipped, saying so. */
export const BROWSER = found.why === undefined ? found.executablePath : null;
export const NO_BROWSER = found.why ?? '';

function options() {
  if (found.why !== undefined) throw new Error(found.why);
  return {
    executablePath: found.executablePath,
    env: { ...process.env, ...found.env } as Record<string, string>,
    args: [...FLAGS],
  };
}

export const launch = async (): Promise<Browser> => chromium.launch(options());

/** One whose process can be killed under those who use it. */
export async function launchToKill(): Promise<{ browser: Browser; server: BrowserServer }> {
  const server = await chromium.launchServer({ ...options(), host: '127.0.0.1' });
  return { browser: await chromium.connect(server.wsEndpoint()), server };
}
