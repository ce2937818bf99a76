/** Exercises as files: the schema for editors, and what is said of a file that cannot be used. */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { withTemporaryFolder } from '../../../src/host/durable-file.js';
import { packageRoot, realFiles } from '../../../src/host/files.js';
import { exerciseJsonSchema } from '../../../src/rehearsal/exercise.js';
import { loadExercises, shippedExercises } from '../../../src/rehearsal/exercise-load.js';
import { loadRig } from '../../../src/rig/load.js';

const depot = loadRig('depot-cable');

describe('config/exercise.schema.json', () => {
  it('is in step with the schema; if not, write `loopwarden schema --exercise` into it and format it', () => {
    const text = realFiles.readText(path.join(packageRoot(), 'config', 'exercise.schema.json'));
    expect(JSON.parse(text)).toEqual(exerciseJsonSchema());
  });
});

describe('exercises', () => {
  it.each(
    realFiles
      .list(path.join(packageRoot(), 'config'))
      .filter((f) => f.endsWith('.yaml'))
      .map((f) => f.slice(0, -'.yaml'.length)),
  )('that suit %s can go wrong there as they say', (name) => {
    const loaded = loadRig(name);
    for (const { connection } of loadExercises(loaded)) expect(connection).toBe(loaded.rig.connection.kind);
  });
  it('of one name are told', async () => {
    const [file = ''] = shippedExercises();
    expect(() => loadExercises(depot, [file, file])).toThrow(/are both named clean-session/);
  });

  const WHOLE = {
    name: 'one',
    title: 'One of them',
    goal: 'Do it.',
    connection: 'cable',
    seed: 1,
    see: [{ see: 'tripped' }],
    withinMin: 10,
    debrief: 'What to have seen.',
  };
  const load = (exercise: object) =>
    withTemporaryFolder(async (folder) => {
      const file = path.join(folder, 'one.yaml');
      writeFileSync(file, JSON.stringify(exercise));
      return loadExercises(depot, [file]);
    });
  it('are left out where they do not suit', async () => {
    expect(await load(WHOLE)).toHaveLength(1);
    expect(await load({ ...WHOLE, connection: 'shoes' })).toEqual([]);
    expect(await load({ ...WHOLE, rigs: ['depot-split'] })).toEqual([]);
    expect(await load({ ...WHOLE, rigs: ['depot-split', 'depot-cable'] })).toHaveLength(1);
  });
  it.each([
    [{ withinMin: 0 }, /one\.yaml:1 {2}withinMin/],
    [{ goal: undefined }, /goal/],
    [{ see: [] }, /see/],
    [{ see: [{ see: 'tripped', codes: ['loop-gone'] }] }, /see\.0\.codes\.0/],
    [{ see: [{ see: 'ended' }] }, /outcome/],
    [{ inject: [{ fault: 'loop-crash', phase: 'holding' }] }, /inject\.0\.fault/],
    [{ inject: [{ fault: 'shoe-lifts', phase: 'holding' }] }, /inject\.0: .*this rig has no shoes/],
    [{ inject: [{ fault: 'raft-silent', phase: 'start', part: 'raft9' }] }, /no part raft9/],
    [{ colour: 'red' }, /colour/],
  ])('with %j cannot be used, and it is said where', async (more, why) => {
    await expect(load({ ...WHOLE, ...more })).rejects.toThrow(why);
  });
  it('that cannot be read say why', () => {
    expect(() => loadExercises(depot, ['/nowhere/at-all.yaml'])).toThrow(/there is no such file/);
  });
});
