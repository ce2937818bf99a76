/**
 * Benchmarks by name: `npm run bench -- physics`. They run the built code, print figures with what they mean, and
 * judge nothing: a slow or busy machine is no fault.
 */
import { readdirSync } from 'node:fs';
import path from 'node:path';

const names = readdirSync(import.meta.dirname)
  .filter((file) => file.endsWith('.mjs') && !['run.mjs', 'stream-clients.mjs'].includes(file))
  .map((file) => file.slice(0, -'.mjs'.length));
const asked = process.argv.slice(2);
const unknown = asked.filter((name) => !names.includes(name));
if (asked.length === 0 || unknown.length > 0) {
  const what = unknown.length > 0 ? `there is no benchmark ${unknown.join(', ')}` : 'no benchmark named';
  process.stderr.write(`${what}; there are: ${names.join(', ')}\n`);
  process.exitCode = 2;
} else {
  for (const name of asked) {
    const { run } = await import(path.join(import.meta.dirname, `${name}.mjs`));
    await run();
  }
  // A circuit engine may keep handles open.
  process.exit(0);
}
