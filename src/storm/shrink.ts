/**
 * Makes a failing session small: leaves out faults, orders and changed figures one by one, then brings the rest
 * towards round values, as long as the same thing stays broken.
 */
import type { StormCase } from './case.js';
import { runCase, type StormResult } from './run.js';

/** Tries at most; a session costs a tenth of a second. */
const MOST_TRIES = 150;

export interface Shrunk {
  readonly small: StormCase;
  readonly result: StormResult;
  readonly tries: number;
}

export async function shrink(failing: StormCase, failed: StormResult, run = runCase): Promise<Shrunk> {
  const wanted = new Set(failed.broken.map((b) => b.id));
  let best = { small: failing, result: failed };
  let tries = 0;
  let progress = true;
  while (progress && tries < MOST_TRIES) {
    progress = false;
    for (const candidate of smaller(best.small)) {
      if (tries++ >= MOST_TRIES) break;
      const result = await run(candidate);
      if (!result.broken.some((b) => wanted.has(b.id))) continue;
      best = { small: candidate, result };
      progress = true;
      break;
    }
  }
  return { ...best, tries };
}

const without = <T>(list: readonly T[], at: number): T[] => list.filter((_, i) => i !== at);

/** The biggest steps first: what is left out needs no explaining. */
function* smaller(drawn: StormCase): Generator<StormCase> {
  if (Object.keys(drawn.set).length > 0) yield { ...drawn, set: {} };
  for (const i of drawn.inject.keys()) yield { ...drawn, inject: without(drawn.inject, i) };
  for (const i of drawn.orders.keys()) yield { ...drawn, orders: without(drawn.orders, i) };
  for (const key of Object.keys(drawn.set)) {
    const { [key]: _, ...rest } = drawn.set;
    yield { ...drawn, set: rest };
  }
  for (const key of Object.keys(drawn.start)) {
    const { [key as keyof StormCase['start']]: _, ...rest } = drawn.start;
    yield { ...drawn, start: rest };
  }
  for (const key of Object.keys(drawn.wish)) {
    // Without an end a session would go on to its ceiling.
    if (key === 'maxS') continue;
    const { [key as keyof StormCase['wish']]: _, ...rest } = drawn.wish;
    yield { ...drawn, wish: rest };
  }
  for (const [i, fault] of drawn.inject.entries()) {
    const { durationS, ...lasting } = fault;
    if (durationS !== undefined) yield { ...drawn, inject: drawn.inject.with(i, lasting) };
    const afterS = Math.round((fault.afterS ?? 0) * 10) / 10;
    if (afterS !== (fault.afterS ?? 0))
      yield { ...drawn, inject: drawn.inject.with(i, { ...fault, afterS }) };
  }
}
