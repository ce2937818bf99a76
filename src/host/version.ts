/** Name and version written into journals and handshakes. */
import path from 'node:path';
import { packageRoot, realFiles } from './files.js';

const text = realFiles.readText(path.join(packageRoot(), 'package.json'));
export const VERSION: string = (JSON.parse(text) as { version: string }).version;
export const SOFTWARE = `loopwarden ${VERSION}`;
