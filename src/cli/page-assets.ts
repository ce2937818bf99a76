/** The texts of the live page: its frame, its style, its scripts as compiled, and the chart library. */
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { packageRoot, realFiles } from '../host/files.js';
import type { Asset } from '../page/assets.js';
import { IMPORT_MAP, PAGE_ICON, pageHtml, uplotModule } from '../page/html.js';
import { sha256 } from '../page/sha256.js';
import { PAGE_STYLE } from '../page/style.js';

const SCRIPT = 'text/javascript; charset=utf-8';
const SHEET = 'text/css; charset=utf-8';

export function pageAssets(): { readonly assets: Asset[]; readonly scriptHashes: string[] } {
  const root = packageRoot();
  const uplot = path.dirname(fileURLToPath(import.meta.resolve('uplot')));
  const text = (...parts: string[]): string => realFiles.readText(path.join(...parts));
  const client = path.join(root, 'dist/src/page/client');
  const scripts = realFiles
    .list(client)
    .filter((name) => name.endsWith('.js'))
    .map((name) => ({ path: `/page/${name}`, type: SCRIPT, text: text(client, name) }));
  const assets = [
    { path: '/', type: 'text/html; charset=utf-8', text: pageHtml() },
    { path: '/page/icon.svg', type: 'image/svg+xml', text: PAGE_ICON },
    { path: '/page/page.css', type: SHEET, text: PAGE_STYLE },
    { path: '/page/uplot.css', type: SHEET, text: text(uplot, 'uPlot.min.css') },
    { path: '/page/uplot.js', type: SCRIPT, text: uplotModule(text(uplot, 'uPlot.iife.min.js')) },
    ...scripts,
  ];
  return { assets, scriptHashes: [sha256(IMPORT_MAP)] };
}
