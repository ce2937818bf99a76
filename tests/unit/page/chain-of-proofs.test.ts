/** The chain of proofs as a list: nothing missing, nothing twice, and every state of it over recorded sessions. */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CHECKS } from '../../../src/checks/index.js';
import { CHAIN, codesOf, standingOf } from '../../../src/page/chain.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import { PROVEN_SAFE } from '../../../src/supervisor/permission.js';
import { Desk } from '../../page/desk.js';
import { rigOf } from '../../sim/fixture.js';

const root = path.resolve(import.meta.dirname, '../../..');

describe('the chain', () => {
  it('has every proof the checks know exactly once, but the one that opens nothing', () => {
    const text = readFileSync(path.join(root, 'src/checks/check.ts'), 'utf8');
    const type = /export type Proof =([^;]*);/.exec(text)?.[1] ?? '';
    const known = [...type.matchAll(/'([a-z-]+)'/g)].map((m) => m[1]);
    expect(known.length).toBeGreaterThan(20);
    const shown = [...CHAIN.values()].flatMap((link) => link.proofs);
    expect([...shown, 'tapering'].sort()).toEqual([...known].sort());
  });
  it('names checks that are there, and a code of each at least', () => {
    const names = new Set(CHECKS.map((c) => c.name));
    for (const [proof, link] of CHAIN) {
      expect([proof, link.checks.filter((c) => !names.has(c))]).toEqual([proof, []]);
      expect([proof, codesOf(link).length > 0]).toEqual([proof, true]);
    }
  });
  it('holds every code that a check states whose proof it shows', () => {
    const shown = new Set([...CHAIN.values()].flatMap(codesOf));
    const proofless = new Set(
      [
        'freshness',
        'reverse-current',
        'plausibility',
        'over-current',
        'heat',
        'cells',
        'window',
        'supply',
      ].concat(['generator', 'journal', 'standing-limits']),
    );
    // These prove nothing: what they state is shown among the findings.
    expect(CHECKS.map((c) => c.name).filter((n) => proofless.has(n))).toHaveLength(proofless.size);
    const missing = CHECKS.filter((c) => !proofless.has(c.name)).flatMap((c) =>
      c.codes.filter((k) => !shown.has(k)),
    );
    expect(missing).toEqual([]);
  });
  it('names for each proof a check that really makes it', () => {
    for (const [proof, { checks }] of CHAIN) {
      const makers = checks.filter((name) => {
        const files = { 'isolation-dead': 'isolation-dead', 'raft-isolation': 'isolation-live' } as Record<
          string,
          string
        >;
        const text = readFileSync(path.join(root, 'src/checks', `${files[name] ?? name}.ts`), 'utf8');
        return text.includes(`'${proof}'`) || text.includes(`'${proof}-all'`) || text.includes('`open-');
      });
      expect([proof, makers.length > 0]).toEqual([proof, true]);
    }
  });
});

describe('one link', () => {
  const rig = rigOf('depot-cable');
  const at = (
    proof: string,
    phase: Phase,
    more: { trippedIn?: Phase; stands?: string[]; made?: string[] } = {},
  ) => {
    const { trippedIn = null, stands = [], made = stands } = more;
    const link = CHAIN.get(proof);
    if (link === undefined) throw new Error(proof);
    return standingOf(link, { phase, trippedIn, stands: new Set(stands), made: new Set(made) }, rig);
  };
  it.each<[string, string, Phase, Parameters<typeof at>[2]]>([
    ['later', 'secured', 'parked', {}],
    ['later', 'closed-p', 'securing', {}],
    ['missing', 'secured', 'securing', {}],
    ['standing', 'secured', 'securing', { stands: ['secured'] }],
    ['standing', 'rafts-joined', 'joining-train', { stands: ['rafts-joined-some'] }],
    ['made', 'isolation-dead', 'holding', { made: ['isolation-dead'] }],
    ['lost', 'closed-p', 'holding', { made: ['closed-p'] }],
    ['made', 'closed-p', 'opening', { made: ['closed-p'] }],
    ['not-needed', 'pre-charged', 'closing', {}],
    ['not-needed', 'pre-charged', 'pre-charging', { stands: ['pre-charged'] }],
    ['not-needed', 'current-zero', 'parting-train', {}],
    ['missing', 'output-dead', 'making-safe', { trippedIn: 'holding' }],
    ['missing', 'output-dead', 'not-proven-dead', { trippedIn: 'holding', made: ['output-dead'] }],
    ['standing', 'output-dead', 'safe', { trippedIn: 'holding', stands: ['output-dead'] }],
    ['lost', 'presence', 'making-safe', { trippedIn: 'holding', made: ['presence'] }],
    ['not-needed', 'closed-n', 'making-safe', { trippedIn: 'closing' }],
  ])('is %s: %s in %s', (state, proof, phase, more) => {
    expect(at(proof, phase, more)).toBe(state);
  });
});

describe('over whole sessions', () => {
  let state: string;
  let desk: Desk;
  let token: string;
  beforeAll(async () => {
    state = mkdtempSync(path.join(tmpdir(), 'loopwarden-chain-'));
    desk = await Desk.open(state);
    token = await desk.inControl();
  });
  afterAll(async () => {
    await desk.close();
    rmSync(state, { recursive: true, force: true });
  });
  const order = (body: object) => desk.post('/api/orders', token, body);
  const states = (): Record<string, string> =>
    Object.fromEntries(desk.look().proofs.map((p) => [p.proof, p.state]));
  const count = (): Record<string, number> => {
    const counted: Record<string, number> = {};
    for (const s of Object.values(states())) counted[s] = (counted[s] ?? 0) + 1;
    return counted;
  };
  const rank = { later: 0, missing: 1, standing: 2, made: 3, lost: 9, 'not-needed': 9 } as Record<
    string,
    number
  >;
  /** Runs to the end and holds every moment against what a chain may show. */
  const follow = async (at: (phase: string) => Promise<void> = async () => {}): Promise<Set<string>> => {
    const seen = new Set<string>();
    // What stood in its own phase or later, looked at more often than any device reports.
    const made = new Set<string>();
    const note = (): void => {
      const stood = desk.bench.session?.display.proofs ?? new Set();
      const now = PHASES.indexOf(desk.bench.session?.phase ?? 'parked');
      for (const [name, link] of CHAIN)
        if (now >= PHASES.indexOf(link.phase) && link.proofs.some((p) => stood.has(p))) made.add(name);
      if (desk.bench.running !== null) desk.bench.clock.after(10, note);
    };
    note();
    let phase = '';
    for (let i = 0; desk.bench.running !== null && i < 20_000; i++) {
      await desk.driver.pump();
      const s = desk.look();
      if (s.phase !== phase) {
        phase = s.phase;
        await at(phase);
        continue;
      }
      for (const p of s.proofs) {
        seen.add(p.state);
        // What was made is never to come again, and nothing was made that did not stand.
        if (made.has(p.proof)) expect([p.proof, phase, p.state]).not.toEqual([p.proof, phase, 'later']);
        if (p.state === 'made' || p.state === 'lost')
          expect([p.proof, made.has(p.proof)]).toEqual([p.proof, true]);
        expect(rank[p.state]).toBeDefined();
      }
    }
    return seen;
  };

  it('a session that is released loses nothing, and ends with everything made that this rig makes', async () => {
    expect(count()).toEqual({ later: 20, 'not-needed': 1 });
    await order({ order: 'start', wish: { targetEnergyKwh: 0.6 } });
    const holding: Record<string, string>[] = [];
    const seen = await follow(async (phase) => {
      if (phase === 'holding') holding.push(states());
    });
    expect([...seen].sort()).toEqual(['later', 'made', 'missing', 'not-needed', 'standing']);
    expect(holding[0]).toMatchObject({
      ...{ secured: 'standing', presence: 'standing', 'closed-p': 'standing', 'closed-n': 'standing' },
      ...{ 'train-closed': 'standing', 'isolation-dead': 'made', 'voltage-matched': 'made' },
      ...{ 'pre-charged': 'not-needed', 'open-p': 'later', 'plug-free': 'later' },
    });
    expect(count()).toEqual({ made: 20, 'not-needed': 1 });
  });
  it.each([
    'securing',
    'proving-presence',
    'checking-isolation',
    'joining-train',
    'matching-voltage',
    'closing',
    'ramping',
  ])('a session stopped in %s is released, and nothing is left to come', async (where) => {
    await order({ order: 'start', wish: { targetEnergyKwh: 0.3 } });
    const seen = await follow(async (phase) => {
      if (phase === where) expect((await order({ order: 'stop' })).statusCode).toBe(202);
    });
    expect(desk.look().ended).toMatchObject({ outcome: 'released', exit: 0 });
    expect(seen.has('lost')).toBe(false);
    const end = states();
    expect(Object.values(end).filter((s) => s !== 'made' && s !== 'not-needed')).toEqual([]);
    expect(end['plug-free']).toBe('made');
  });
  it('a session that trips says which proofs it lost, and which of the safe end stand', async () => {
    await order({ order: 'start', wish: { targetEnergyKwh: 0.6 } });
    const after: Record<string, string>[] = [];
    const seen = await follow(async (phase) => {
      if (phase === 'holding') desk.bench.inject({ fault: 'loop-crush', afterS: 0.5 });
      if (phase === 'making-safe' || phase === 'safe') after.push(states());
    });
    expect(seen.has('lost')).toBe(true);
    expect(after[0]).toMatchObject({ 'output-dead': 'missing', 'plug-dead': 'missing', presence: 'lost' });
    expect(after.flatMap((s) => Object.values(s)).filter((s) => s === 'later')).toEqual([]);
    for (const proof of PROVEN_SAFE) expect([proof, after.at(-1)?.[proof]]).toEqual([proof, 'standing']);
    // A while later nobody looks any more: it was made, and nothing stands.
    expect(Object.values(states()).filter((s) => s === 'standing')).toEqual([]);
    expect(states()['output-dead']).toBe('made');
  });
});
