/** What must read the same wherever the package lies: the hash of its build, a stack trace. */
import { cpSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { afterAll, expect, it } from 'vitest';
import { buildHash } from '../../src/host/build.js';
import { placeless } from '../../src/host/files.js';

const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-build-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

it('hashes code and rigs, not where they lie', () => {
  const [one, other] = ['one', 'the other'].map((name) => path.join(folder, name)) as [string, string];
  for (const [file, text] of [
    ['dist/src/a.js', 'a();'],
    ['dist/src/a.js.map', '{}'],
    ['dist/src/deep/b.js', 'b();'],
    ['config/rig.yaml', 'name: rig'],
  ] as const) {
    mkdirSync(path.dirname(path.join(one, file)), { recursive: true });
    writeFileSync(path.join(one, file), text);
  }
  cpSync(one, other, { recursive: true });
  const same = buildHash(one);
  expect(same).toMatch(/^[0-9a-f]{16}$/);
  expect(buildHash(other)).toBe(same);
  writeFileSync(path.join(other, 'dist/src/a.js.map'), '{"version":3}');
  expect(buildHash(other)).toBe(same);
  const hashes = new Set([same]);
  for (const [file, text] of [
    ['dist/src/deep/b.js', 'c();'],
    ['dist/src/new.js', ''],
    ['config/rig.yaml', 'name: rag'],
  ] as const) {
    writeFileSync(path.join(other, file), text);
    hashes.add(buildHash(other));
  }
  expect(hashes.size).toBe(4);
});

it('tells a stack trace by paths within the package', () => {
  const trace = (root: string): string => {
    const url = pathToFileURL(path.join(root, 'dist/src/x.js')).href;
    return `Error: no\n    at step (${url}:12:3)\n    at ${path.join(root, 'dist/src/y.js')}:4:5\n    at node:internal/z:1:1`;
  };
  const [a, b] = ['/srv/with space', '/home/other'].map((root) => placeless(trace(root), root));
  expect(a).toBe(b);
  expect(a).toContain('at step (dist/src/x.js:12:3)');
  expect(a).toContain('at dist/src/y.js:4:5');
});
