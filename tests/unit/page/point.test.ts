/** A point of the traces shows what was read, and a gap where nothing was or it is too old. */
import { describe, expect, it } from 'vitest';
import { TRACE_COLUMNS } from '../../../src/page/api.js';
import { pointOf } from '../../../src/page/point.js';
import { loadRig } from '../../../src/rig/load.js';
import type { Session } from '../../../src/supervisor/session.js';

const { rig } = loadRig('depot-cable');
const seen = (value: object, ageMs = 0) => ({ value, ageMs, isNew: true });
const raft = (soc: number, ageMs = 0) => seen({ soc, cellMaxC: 20 + 10 * soc }, ageMs);

function point(more: object, sessionMs = 1000) {
  const display = {
    seen: {
      nowMs: 1000,
      meter: seen({ outputV: 700, plugV: 699, currentA: 100, cableC: 30, contactC: 31 }),
      train: seen({ trainV: 698 }),
      rafts: [raft(0.5), raft(0.4), raft(0.6)],
      ...more,
    },
    ...{ setpointA: 100, leastA: 300, binding: 'cable' },
  };
  const session = { phase: 'holding', display } as unknown as Session;
  const row = pointOf(session, sessionMs, 5, rig, () => 7) as (number | null)[];
  return Object.fromEntries(TRACE_COLUMNS.map((name, i) => [name, row[i]]));
}

describe('a point', () => {
  it('has the raft with the least charge and the hottest cell, whichever raft each is of', () => {
    expect(point({})).toMatchObject({
      soc: 0.4,
      cellMaxC: 26,
      currentA: 100,
      trainV: 698,
      binding: 7,
      atMs: 5,
    });
  });
  it('is a gap for what is older than its deadline, and not before', () => {
    const { fastReadingMs, slowReadingMs } = rig.link;
    const old = seen({ outputV: 700, plugV: 699, currentA: 100, cableC: 30, contactC: 31 }, fastReadingMs);
    expect(point({ meter: old }).outputV).toBe(700);
    expect(point({ meter: old }, 1001)).toMatchObject({
      outputV: null,
      plugV: null,
      currentA: null,
      cableC: null,
    });
    const rafts = [raft(0.5), raft(0.4, slowReadingMs + 1)];
    expect(point({ rafts }).soc).toBe(0.5);
    expect(point({ train: seen({ trainV: 698 }, slowReadingMs + 1) }).trainV).toBeNull();
  });
  it('is a gap for what is not there or not a number, and none at all before anything was read', () => {
    expect(point({ meter: null, rafts: [] })).toMatchObject({ outputV: null, soc: null, cellMaxC: null });
    expect(point({ rafts: [raft(Number.NaN)] }).soc).toBeNull();
    const unseen = { phase: 'parked', display: { seen: null } } as unknown as Session;
    expect(pointOf(unseen, 0, 0, rig, () => 0)).toBeNull();
    expect(pointOf(null, 0, 0, rig, () => 0)).toBeNull();
  });
});
