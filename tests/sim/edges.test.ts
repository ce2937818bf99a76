/**
 * Every edge of the machine through supervisor, codec, link and simulated device. Here: every event in every state,
 * each with one set of flags. `npm run edges` drives every edge with every set of flags and prints the account.
 */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { explore } from '../../src/audit/explore/explore.js';
import { keyOf, Subject, stateOf } from '../../src/audit/explore/subject.js';
import { changes } from '../../src/supervisor/decide.js';
import { demandAll, everyEdge, type MachineEdge } from '../model/test-model.js';
import { account } from './edges/account.js';
import { ASSERTIONS } from './edges/assertions.js';
import { Campaign, idOf } from './edges/campaign.js';
import { deadlineWaysOf } from './edges/deadline-ways.js';
import { HANDLERS } from './edges/handlers.js';
import { runReal } from './edges/real-session.js';
import { REASONS, reasonOf } from './edges/reasons.js';
import { PATHS, START, type Way, wayOn, waysOf } from './edges/ways.js';

const WHOLE = process.env.EDGES === 'all';
const EDGES = everyEdge(new Subject().beginnings());

/** One edge for each state and event, of the match path where that has it. */
function oneOfEach(): MachineEdge[] {
  const picked = new Map<string, MachineEdge>();
  const matchFirst = [...EDGES].sort(
    (a, b) => Number(a.from.context.path !== 'match') - Number(b.from.context.path !== 'match'),
  );
  for (const edge of matchFirst) {
    const pair = `${stateOf(edge.from)} ${edge.event}`;
    if (!picked.has(pair)) picked.set(pair, edge);
  }
  // Every second one: the whole has a command of its own.
  return [...picked.values()].filter((_, k) => k % 2 === 0);
}

const isPicked = ({ name, drawn }: Way): boolean => {
  if (name.includes('slow disk')) return false;
  if (drawn.base === 'yard-precharge') return /a charge$|pre-charged$/.test(name);
  return !/trip-. with (some|all)/.test(name);
};

function waysToGo(): Way[] {
  const ways = PATHS.flatMap((path) => [...waysOf(path), ...deadlineWaysOf(path)]);
  return WHOLE ? ways : ways.filter(isPicked);
}

describe('the edges of the machine', () => {
  it('are the same to the test library and to the exploration', () => {
    const ours = new Set<string>();
    for (const { machineKey, snapshot, edges } of explore(new Subject()).nodes)
      for (const event of edges.keys())
        if (changes(snapshot, { type: event })) ours.add(`${machineKey} ${event}`);
    expect(new Set(EDGES.map(idOf))).toEqual(ours);
  });
  it('have a handler for every event and an assertion for every state', () => {
    expect(() => demandAll(HANDLERS, ASSERTIONS)).not.toThrow();
    const { holding: _, ...less } = ASSERTIONS;
    expect(() => demandAll(HANDLERS, less)).toThrow(/state holding/);
    const { 'trip-1': __, ...fewer } = HANDLERS;
    expect(() => demandAll(fewer, ASSERTIONS)).toThrow(/event trip-1/);
  });
  it('are excused by reasons that fit some edge', () => {
    expect(REASONS.filter((r) => !EDGES.some((e) => r.matches(e)))).toEqual([]);
  });
});

describe(
  WHOLE ? 'every edge through the real stack' : 'a half of all events in all states through the real stack',
  () => {
    const wished = WHOLE ? EDGES : oneOfEach();
    const campaign = new Campaign(EDGES);
    beforeAll(async () => {
      for (const way of waysToGo()) await campaign.go(way);
      for (const edge of wished) if (reasonOf(edge) === null) await campaign.drive(edge);
    }, 1_800_000);

    it('is driven, or listed with the reason why no device can', () => {
      const open = wished.filter((e) => !campaign.driven.has(idOf(e)) && reasonOf(e) === null);
      expect(open.map((e) => `${keyOf(e.from)} ${e.event}`)).toEqual([]);
    });
    it('is listed only where it was never driven', () => {
      expect(EDGES.filter((e) => reasonOf(e) !== null && campaign.driven.has(idOf(e))).map(idOf)).toEqual([]);
    });
    it('leads nowhere the machine does not lead', () => {
      expect([...campaign.strange]).toEqual([]);
    });
    it('breaks no invariant on the way, and finds each state as asserted', () => {
      expect(campaign.troubles).toEqual([]);
    });
    afterAll(() => {
      const text = account(WHOLE ? EDGES : wished, campaign);
      process.stdout.write(`\n${text}\n`);
    });
  },
);

describe('what is listed', () => {
  it('an acknowledgement asked for in safe is refused', async () => {
    const orders = [
      { order: 'trip-now', phase: 'holding', afterS: 0.1 },
      { order: 'acknowledge', phase: 'safe', afterS: 0.2 },
    ] as const;
    const session = await runReal(wayOn('match')('', { orders: [...orders] }).drawn);
    expect(session.visits.at(-1)?.state).toBe('safe');
    expect(session.refusals).toEqual(['not-permitted-now']);
  });
  it('an acknowledgement asked for while a start waits for its refusal is refused too', async () => {
    const start = { ...START, latched: true };
    const orders = [{ order: 'acknowledge', phase: 'parked' }] as const;
    for (const first of ['start', 'acknowledge'] as const) {
      const session = await runReal(wayOn('match')('', { start, first, orders: [...orders] }).drawn);
      // Asked of a session of its own it is carried out, and the machine has no part in it.
      expect(session.refusals.length > 0).toBe(first === 'start');
      expect(session.edges.size).toBe(0);
    }
  });
});

it('an assertion finds what is not as it must be', async () => {
  const inject = [{ fault: 'contactor-weld', phase: 'ramping' }] as const;
  const { wrong } = await runReal(wayOn('match')('', { inject: [...inject] }).drawn);
  expect(wrong[0]).toMatch(/^in opening\.proving-p at \d+ ms: poleP not open/);
});

it('a trip in the moment a raft joins is told safe only when nothing can make the plug live again', async () => {
  for (const afterS of [1.2016, 1.21, 1.23]) {
    const orders = [{ order: 'trip-now', phase: 'securing', afterS }] as const;
    const { visits, truth, wrong } = await runReal(wayOn('match')('', { orders: [...orders] }).drawn);
    expect(wrong).toEqual([]);
    const safe = visits.find((v) => v.state === 'safe');
    expect(safe).toBeDefined();
    expect(truth.mostPlugVAfter(safe?.sinceMs ?? 0)).toBeLessThanOrEqual(60);
  }
});
