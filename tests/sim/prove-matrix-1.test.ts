/**
 * Weaknesses against procedures. In `npm test` each weakness is found by the step meant for it, and some that it has
 * nothing to do with stay passed; `npm run acceptance:prove` holds every step against every weakness.
 */
import { describe, expect, it } from 'vitest';
import { WEAKNESSES } from '../../src/prove/charger.js';
import {
  declared,
  declaredWeaknesses,
  halfOfMatrix,
  RIG,
  rigOf,
  stepsOf,
  verdictOf,
} from './prove-matrix.js';

describe('the declared matrix', () => {
  it('has a row for every weakness, and in each a step that finds it', () => {
    expect([...declaredWeaknesses()].sort()).toEqual(Object.keys(WEAKNESSES).sort());
    for (const name of declaredWeaknesses()) expect(declared(name).size, name).toBeGreaterThan(0);
  });

  it('names steps that there are', () => {
    const unknown = declaredWeaknesses().flatMap((weakness) =>
      [...declared(weakness).keys()].filter((step) => !stepsOf(rigOf(weakness)).has(step)),
    );
    expect(unknown).toEqual([]);
  });

  it.each([
    ['stop-relay-missing', 'pilot-loop/relay-opened'],
    ['contactors-slow', 'silence/link-cut'],
    ['isolation-monitor-off', 'isolation/both-before'],
  ])('%s leaves %s passed', async (weakness, step) => {
    expect(declared(weakness).has(step)).toBe(false);
    expect(await verdictOf(WEAKNESSES[weakness] as never, RIG, step)).toBe('pass');
  });
});

describe('a charger, the first half', () => halfOfMatrix(0));
