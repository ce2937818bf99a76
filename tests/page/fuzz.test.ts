/** A slice of `npm run acceptance:page`, which draws a hundred thousand requests; `PAGE_REQUESTS` says how many. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import fc from 'fast-check';
import { afterAll, expect, it } from 'vitest';
import { Fuzz, requests, wire } from './fuzz.js';

const REQUESTS = Number(process.env.PAGE_REQUESTS ?? 1500);
/** One in ten as bytes. */
const BYTES = Math.round(REQUESTS / 10);
const SEED = Number(process.env.PAGE_SEED ?? 20_260_101);
const HEAP_MB = 60;

const state = mkdtempSync(path.join(tmpdir(), 'loopwarden-fuzz-'));
const fuzz = new Fuzz(() => mkdtempSync(path.join(state, 'desk-')));
afterAll(async () => {
  await fuzz.close();
  rmSync(state, { recursive: true, force: true });
});

it(
  `${REQUESTS} requests: no failure, nothing done without right, memory bounded`,
  async () => {
    const { figures } = fuzz;
    const drawn = requests(await fuzz.document());
    setFlagsFromString('--expose-gc');
    const collect = runInNewContext('gc') as () => void;
    const heap = (): number => {
      collect();
      return process.memoryUsage().heapUsed / 2 ** 20;
    };
    const beforeMb = heap();
    // Drawn in pieces: all at once would fill the memory that is watched.
    const PIECE = 500;
    for (let done = 0; done < REQUESTS - BYTES; done += PIECE)
      for (const one of fc.sample(drawn, {
        seed: SEED + done,
        numRuns: Math.min(PIECE, REQUESTS - BYTES - done),
      }))
        await fuzz.ask(one);
    for (let done = 0; done < BYTES; done += PIECE)
      await fuzz.bytes(fc.sample(wire(), { seed: SEED + done, numRuns: Math.min(PIECE, BYTES - done) }));
    const afterMb = heap();
    const told = Object.entries(figures.statuses).map(([status, n]) => `${status}: ${n}`);
    console.info(
      `${figures.requests} requests (${BYTES} as bytes), seed ${SEED}; ${told.join(', ')}; ${figures.effects} did something; ` +
        `heap ${beforeMb.toFixed(0)} MB before, ${afterMb.toFixed(0)} MB after`,
    );
    expect(figures.failed.slice(0, 3)).toEqual([]);
    expect(figures.wrong.slice(0, 3)).toEqual([]);
    expect(figures.requests).toBe(REQUESTS);
    // The drawing finds its way in: otherwise it would show nothing.
    for (const status of [200, 202, 400, 401, 403, 404, 409, 415])
      expect([status, figures.statuses[status] ?? 0]).toEqual([
        status,
        expect.toSatisfy((n: number) => n > 0),
      ]);
    expect(figures.effects).toBeGreaterThan(REQUESTS / 100);
    expect(afterMb - beforeMb).toBeLessThan(HEAP_MB);
  },
  60_000 + 20 * REQUESTS,
);
