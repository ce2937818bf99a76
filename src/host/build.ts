/** Tells builds of one version apart: what ran, by its bytes. */
import { createHash } from 'node:crypto';
import path from 'node:path';
import { filesBelow, packageRoot, realFiles } from './files.js';

/** Enough that no two builds share it by chance, short enough to read. */
const SHOWN_DIGITS = 16;

/** Hash, hex, over the built code and the rigs that come with it; the same wherever the package lies. */
export function buildHash(root: string = packageRoot()): string {
  const config = path.join(root, 'config');
  const rigs = realFiles.list(config).filter((name) => name.endsWith('.yaml'));
  const hash = createHash('sha256');
  for (const file of [
    ...filesBelow(path.join(root, 'dist'), '.js').map((found) => found.file),
    ...rigs.map((name) => path.join(config, name)),
  ]) {
    const text = realFiles.readText(file);
    hash.update(`${path.relative(root, file).split(path.sep).join('/')} ${text.length}\n${text}`);
  }
  return hash.digest('hex').slice(0, SHOWN_DIGITS);
}
