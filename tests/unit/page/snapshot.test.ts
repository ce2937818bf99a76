/** The state of the moment: valid at every moment, and nothing that is old, unread or over looks fresh. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { readingDeadlineMs } from '../../../src/checks/freshness.js';
import {
  eventList,
  type Snapshot,
  snapshot as schema,
  traces as tracesSchema,
} from '../../../src/page/api.js';
import type { AssignableRole } from '../../../src/rig/roles.js';
import { Desk, type DeskOptions } from '../../page/desk.js';

let state: string;
let desks: Desk[];
beforeEach(() => {
  state = mkdtempSync(path.join(tmpdir(), 'loopwarden-snapshot-'));
  desks = [];
});
afterEach(async () => {
  for (const desk of desks) await desk.close();
  rmSync(state, { recursive: true, force: true });
});
const open = async (options: DeskOptions = {}): Promise<Desk> => {
  const desk = await Desk.open(state, options);
  desks.push(desk);
  return desk;
};

/** As it goes over the line: anything JSON would drop or turn to null shows here. */
function held(desk: Desk): Snapshot {
  const told = desk.look();
  expect(JSON.parse(JSON.stringify(told))).toEqual(told);
  const checked = schema.safeParse(told);
  expect(checked.error?.issues ?? []).toEqual([]);
  const { rig } = desk.bench.loaded;
  for (const [name, { ageMs, stale }] of Object.entries(told.readings)) {
    const role = (name.startsWith('raft') ? 'raft' : name) as AssignableRole;
    expect([name, stale]).toEqual([name, !(ageMs !== null && ageMs <= readingDeadlineMs(role, rig))]);
  }
  if (told.running === null) {
    expect(told.proofs.filter((p) => p.state === 'standing')).toEqual([]);
    expect([told.leastA, told.binding]).toEqual([null, '']);
  }
  return told;
}

/** Runs to the end, looking all the time; each age is held against the truth of when the device last reported. */
async function through(desk: Desk, at: (phase: string) => void = () => {}): Promise<Snapshot[]> {
  const all: Snapshot[] = [];
  let phase = '';
  for (let i = 0; desk.bench.running !== null && i < 20_000; i++) {
    await desk.driver.pump();
    // Every third pump, and each in which the phase is another.
    if (i % 3 > 0 && desk.bench.session?.phase === phase) continue;
    const told = held(desk);
    all.push(told);
    if (told.phase !== phase) {
      phase = told.phase;
      at(phase);
    }
  }
  const answers = await Promise.all(
    ['/api/state', '/api/events', '/api/traces', '/api/pilot', '/api/about'].map((url) =>
      desk.ask('GET', url, { cookie: token }),
    ),
  );
  expect(answers.map((a) => a.statusCode)).toEqual([200, 200, 200, 200, 200]);
  expect(eventList.safeParse(answers[1]?.json()).success).toBe(true);
  expect(tracesSchema.safeParse(answers[2]?.json()).success).toBe(true);
  return all;
}
let token = '';

async function started(desk: Desk, kWh = 0.3): Promise<void> {
  token = await desk.inControl();
  const answer = await desk.post('/api/orders', token, { order: 'start', wish: { targetEnergyKwh: kWh } });
  expect(answer.statusCode).toBe(202);
}

describe('the state', () => {
  it('before the first session says nothing is known', async () => {
    const desk = await open();
    const told = held(desk);
    expect(told).toMatchObject({
      ...{ phase: 'parked', running: null, by: null, tripped: false, latch: null, ended: null },
      ...{ readings: {}, setpointA: null, leastA: null, energyToBatteryKwh: null, findings: [], limits: [] },
    });
  });
  it.each(['depot-cable', 'terminus-shoes', 'yard-precharge'])(
    'is valid at every moment of a session on %s',
    async (rig) => {
      const desk = await open({ rig });
      await started(desk);
      const all = await through(desk);
      expect(all.at(-1)?.ended).toMatchObject({ outcome: 'released' });
      const charging = all.filter((s) => s.phase === 'ramping');
      expect(charging.length).toBeGreaterThan(0);
      expect(charging.every((s) => s.leastA !== null && s.binding !== '')).toBe(true);
    },
  );
  it('grows old by itself when no session looks any more, and never younger', async () => {
    const desk = await open();
    await started(desk);
    await through(desk);
    const first = held(desk);
    await desk.driver.wait(10);
    const later = held(desk);
    expect(Object.keys(later.readings).length).toBeGreaterThan(8);
    for (const [name, { ageMs, stale }] of Object.entries(later.readings)) {
      expect([name, stale]).toEqual([name, true]);
      expect((ageMs as number) - (first.readings[name]?.ageMs as number)).toBeGreaterThanOrEqual(10_000);
    }
    expect(later.proofs.every((p) => p.state !== 'standing' && p.state !== 'missing')).toBe(true);
  });
  it.each([
    ['sensor-reads-nothing', 'meter'],
    ['sensor-reads-nothing', 'raft1'],
    ['sensor-reads-nothing', 'meter:currentA'],
    ['sensor-frozen', 'meter'],
    ['port-lost', undefined],
    ['raft-silent', 'raft2'],
  ])('is valid while %s (%s) lasts, and shows what cannot be read as null', async (fault, part) => {
    const desk = await open();
    await started(desk, 0.6);
    const all = await through(desk, (phase) => {
      if (phase === 'ramping') desk.bench.inject({ fault, part, afterS: 1 });
    });
    expect(all.at(-1)?.ended?.outcome).toBe('tripped');
    const after = all.filter((s) => s.tripped);
    if (fault === 'sensor-reads-nothing') {
      const [role = '', field] = (part ?? '').split(':');
      const last = after.at(-1)?.readings[role]?.values ?? {};
      expect(field === undefined ? Object.values(last).some((v) => v === null) : last[field]).toBe(
        field === undefined ? true : null,
      );
    } else if (fault !== 'raft-silent') {
      expect(after.some((s) => s.readings.meter?.stale)).toBe(true);
    }
  });
  it('says of the time in a phase what passed in it, also while nothing is heard', async () => {
    const desk = await open();
    await started(desk, 0.6);
    await desk.until((phase) => phase === 'ramping');
    const before = held(desk).phaseS;
    await desk.driver.wait(1);
    const after = held(desk);
    if (after.phase === 'ramping') expect(after.phaseS - before).toBeGreaterThanOrEqual(1);
  });
  it('tells a latch of another run of the program, and of a session that never recorded its end', async () => {
    const desk = await open();
    const look = (over: object): Snapshot => {
      const { bench } = desk;
      const stand = { ...{ loaded: bench.loaded, clock: bench.clock, session: null, sessionMs: 0, bench } };
      const real = desk.context.stand;
      Object.assign(desk.context, { stand: { ...stand, running: null, ...over } });
      const { latch } = (over as { latch: Desk['bench']['latch'] }) ?? {};
      Object.defineProperty(bench, 'latch', { value: latch, configurable: true });
      try {
        return held(desk);
      } finally {
        Object.assign(desk.context, { stand: real });
        delete (bench as unknown as { latch?: unknown }).latch;
      }
    };
    const none = {
      version: 1,
      rig: 'depot-cable',
      open: null,
      trip: null,
      owedToDevice: null,
      acknowledged: null,
    };
    expect(look({ latch: none }).latch).toBeNull();
    const open1 = { journal: 'j', wallMs: 1, energised: false };
    expect(look({ latch: { ...none, open: open1 } }).latch).toBeNull();
    expect(look({ latch: { ...none, open: { ...open1, energised: true } } }).latch).toEqual({
      ...{ code: 'unfinished-journal', phase: 'unknown', journal: 'j', provenDead: null },
    });
    const trip = {
      code: 'loop-open',
      phase: 'holding',
      journal: 'k',
      wallMs: 1,
      provenDead: false,
      found: [],
    };
    expect(look({ latch: { ...none, trip } }).latch).toEqual({
      ...{ code: 'loop-open', phase: 'holding', journal: 'k', provenDead: false },
    });
  });
});
