/** `npm run edge-table`: writes every edge of the built machine to tests/model/edges.txt and says what changed. */
import { readFileSync, writeFileSync } from 'node:fs';
import { edgeTable } from '../../dist/src/audit/explore/edge-table.js';
import { differences, EDGES_FILE, fileText } from './edges-file.mjs';

const text = fileText(edgeTable());
const changed = differences(readFileSync(EDGES_FILE, 'utf8'), text);
writeFileSync(EDGES_FILE, text);
for (const line of changed) process.stdout.write(`${line}\n`);
process.stdout.write(`${changed.length} lines differ from before; have them reviewed\n`);
