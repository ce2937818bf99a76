/** Each shipped exercise can be done, by the orders a team would give, and is not reached when nothing is done. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Exercise } from '../../src/rehearsal/exercise.js';
import { ExerciseDesk } from '../../src/rehearsal/exercise-desk.js';
import { loadExercise, loadExercises, shippedExercises } from '../../src/rehearsal/exercise-load.js';
import { loadRig } from '../../src/rig/load.js';
import { Driver } from './bench-driver.js';

let state: string;
let driver: Driver | null = null;
beforeEach(() => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-exercise-'));
});
afterEach(async () => {
  await driver?.bench.close();
  driver = null;
  rmSync(state, { recursive: true, force: true });
});

const EXERCISES = shippedExercises().map(loadExercise);
const RIG = { cable: 'depot-cable', shoes: 'terminus-shoes' } as const;

function set(name: string): { readonly d: Driver; readonly desk: ExerciseDesk } {
  const { connection } = EXERCISES.find((e) => e.name === name) as Exercise;
  const d = new Driver(state, RIG[connection]);
  driver = d;
  const desk = new ExerciseDesk(d.bench, loadExercises(d.bench.loaded));
  desk.begin(name);
  return { d, desk };
}

const FULL = { targetEnergyKwh: 3 };
const LITTLE = { targetEnergyKwh: 0.1 };

/** Starts, and lets the session run into what waits for it. */
async function startInto(d: Driver, wish = FULL): Promise<void> {
  await d.begin('start', wish);
  await d.closed();
}
async function ask(d: Driver, order: 'acknowledge' | 'free-plug'): Promise<void> {
  await d.begin(order);
  await d.closed();
}

/** What a team does, by the name of the exercise. */
const PLAYED: Readonly<Record<string, (d: Driver) => Promise<void>>> = {
  'clean-session': (d) => startInto(d, LITTLE),
  'plug-pulled-early': async (d) => {
    await startInto(d);
    await ask(d, 'acknowledge');
  },
  'lorry-on-the-cable': async (d) => {
    await startInto(d);
    await ask(d, 'acknowledge');
    await ask(d, 'free-plug');
  },
  'leaky-cable': async (d) => {
    await startInto(d);
    await ask(d, 'acknowledge');
  },
  'supply-sags': async (d) => {
    await startInto(d);
    await ask(d, 'acknowledge');
  },
  'latched-before': async (d) => {
    await startInto(d, LITTLE);
    await ask(d, 'acknowledge');
    await startInto(d, LITTLE);
  },
  'cold-cells': (d) => startInto(d),
  'weld-at-opening': async (d) => {
    await startInto(d, LITTLE);
    await ask(d, 'acknowledge');
  },
  'limit-by-hand': async (d) => {
    await d.begin('start', FULL);
    await d.phase('holding');
    d.order('limit-current', 120);
    await d.wait(3);
    d.order('stop');
    await d.closed();
  },
  'trip-and-hand-over': async (d) => {
    await d.begin('start', FULL);
    await d.phase('holding');
    d.order('trip-now');
    await d.closed();
    d.by = 'M. Brandt';
    await ask(d, 'acknowledge');
    await ask(d, 'free-plug');
  },
  'shoes-dwell': (d) => startInto(d, { targetEnergyKwh: 1 }),
  'shoe-lifts': async (d) => {
    await startInto(d, { targetEnergyKwh: 20 });
    await ask(d, 'acknowledge');
  },
  'shoe-runs-warm': async (d) => {
    await startInto(d, { targetEnergyKwh: 20 });
    await ask(d, 'acknowledge');
  },
};

describe('a shipped exercise', () => {
  const left = new Set(EXERCISES.map((e) => e.name));
  afterAll(() => expect([...left]).toEqual([]));

  it.each(Object.keys(PLAYED))('%s can be done', async (name) => {
    left.delete(name);
    const { d, desk } = set(name);
    const hidden = d.bench.faults;
    expect(hidden).toEqual([]);
    await PLAYED[name]!(d);
    expect(desk.state?.debrief).toMatchObject({ reached: true });
    const lines = desk.state?.debrief?.lines ?? [];
    expect(lines[0]).toBe('Reached.');
    const { inject, debrief } = EXERCISES.find((e) => e.name === name) as Exercise;
    expect(lines.at(-1)).toBe(debrief.trim());
    // What was hidden is told, and shown from now on.
    for (const { fault } of inject) expect(lines.join('\n')).toMatch(new RegExp(`What was wrong.*${fault}`));
    expect(d.bench.faults.map((f) => f.fault)).toEqual(inject.map((i) => i.fault));
  });
  it.each(EXERCISES.map((e) => e.name))('%s is not reached when nothing is done', async (name) => {
    const { d, desk } = set(name);
    await d.wait(5);
    expect(desk.state?.debrief).toBeNull();
    desk.end();
    const { see } = EXERCISES.find((e) => e.name === name) as Exercise;
    const { reached, lines } = desk.state?.debrief ?? { reached: true, lines: [] };
    expect(reached).toBe(false);
    expect(lines[0]).toBe('Not reached.');
    expect(lines[1]?.split('; then ')).toHaveLength(see.length);
    expect(lines[2]).toBe('Nothing was asked for.');
  });
  it('says nothing in its title or goal of what goes wrong', () => {
    for (const { inject, see, title, goal } of EXERCISES) {
      const codes = see.flatMap((s) => ('codes' in s && s.see === 'tripped' ? (s.codes ?? []) : []));
      for (const word of [...inject.map((i) => i.fault), ...codes])
        if (word !== 'trip-now') expect(`${title} ${goal}`).not.toContain(word);
    }
  });
  it('has a name that is its file, and suits a shipped rig', () => {
    expect(shippedExercises().map((f) => path.basename(f, '.yaml'))).toEqual(EXERCISES.map((e) => e.name));
    for (const name of Object.values(RIG)) expect(loadExercises(loadRig(name)).length).toBeGreaterThan(2);
  });
});

describe('an exercise under way', () => {
  it('is over when its time is, counting only sessions', async () => {
    const { d, desk } = set('limit-by-hand');
    await d.wait(30 * 60);
    expect(desk.state?.debrief).toBeNull();
    await d.begin('start', { targetEnergyKwh: 90 });
    await d.wait(14 * 60);
    expect(desk.state?.debrief).toBeNull();
    await d.wait(2 * 60);
    expect(desk.state?.debrief?.reached).toBe(false);
    expect(desk.state?.debrief?.lines).toContain('The time was over: 15 min of sessions.');
  });
  it('is over when it cannot be reached any more', async () => {
    const { d, desk } = set('clean-session');
    await d.begin('start', FULL);
    await d.phase('ramping');
    d.order('trip-now');
    await d.closed();
    expect(desk.state?.debrief?.reached).toBe(false);
    expect(desk.state?.debrief?.lines).toContain('Must not have been, and was: a trip.');
  });
  it('is the only one, and of a rig it suits', async () => {
    const { d, desk } = set('clean-session');
    expect(() => desk.begin('cold-cells')).toThrow(/clean-session is under way/);
    expect(() => desk.begin('shoe-lifts')).toThrow(/known exercises: clean-session, cold-cells, /);
    desk.end();
    await d.begin('start', LITTLE);
    expect(() => desk.begin('cold-cells')).toThrow(/under way/);
    await d.closed();
    desk.begin('cold-cells');
    expect(desk.state).toMatchObject({ name: 'cold-cells', debrief: null });
  });
  it('does not begin over a latch, and clears none', async () => {
    const { d, desk } = set('clean-session');
    await d.begin('start', FULL);
    await d.phase('ramping');
    d.order('trip-now');
    await d.closed();
    expect(() => desk.begin('cold-cells')).toThrow(/a trip is latched \(trip-now\): acknowledge it/);
    expect(d.bench.latch.trip?.code).toBe('trip-now');
    await ask(d, 'acknowledge');
    desk.begin('cold-cells');
  });
  it('takes back what waits unseen when it ends, and leaves what stands', async () => {
    const { d, desk } = set('lorry-on-the-cable');
    await d.begin('start', LITTLE);
    desk.end();
    expect((await d.closed()).outcome.outcome).toBe('released');
    expect(d.bench.faults).toEqual([]);
  });
});
