/** Worked out once for each rig, and for each its own. */
import { expect, it } from 'vitest';
import { perRig } from '../../../src/checks/per-rig.js';
import { depot, shoes } from './build.js';

it('works out once for each rig what follows from it', () => {
  const asked: string[] = [];
  const ratedA = perRig((rig) => {
    asked.push(rig.name);
    return { ratedA: rig.connection.ratedCurrentA };
  });
  const first = ratedA(depot);
  expect(ratedA(shoes)).toEqual({ ratedA: 1500 });
  expect(ratedA(depot)).toBe(first);
  expect(first).toEqual({ ratedA: 300 });
  expect(asked).toEqual(['depot-cable', 'terminus-shoes']);
  // Another rig with the same figures is another rig: nothing goes by the name.
  expect(ratedA({ ...depot, connection: { ...depot.connection, ratedCurrentA: 150 } })).toEqual({
    ratedA: 150,
  });
});
