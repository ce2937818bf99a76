/**
 * Copies of the supervisor's parts with one deliberate mistake each, in whole sessions: the test of the tests. Each
 * must be caught by the invariant meant for it, from the journal or the truth of the bench. The copies stand in for
 * the real modules here only; nothing in the program can be told to be wrong.
 */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { InvariantId } from '../../machines/invariant-list.js';
import type { SessionMachine } from '../../machines/session.js';
import { OBSERVED } from '../../src/audit/invariants/index.js';
import { Judge, tellBreach } from '../../src/audit/judge.js';
import type { Check, Proof } from '../../src/checks/check.js';
import { CHECKS } from '../../src/checks/index.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { withTemporaryFolder } from '../../src/host/durable-file.js';
import { runJudged } from '../../src/rehearsal/judged-run.js';
import { loadRig } from '../../src/rig/load.js';
import { brokenMachines } from '../model/broken-machines.mjs';

type Scenario = ReturnType<typeof loadScenario>;

/** Which copy is in place of the real thing. */
const broken = vi.hoisted(() => ({ part: '', machine: null as unknown }));

vi.mock('../../machines/session.js', async (original) => {
  const real = await original<typeof import('../../machines/session.js')>();
  return {
    ...real,
    get sessionMachine() {
      return broken.machine ?? real.sessionMachine;
    },
  };
});
vi.mock('../../src/supervisor/governor.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/governor.js')>();
  const govern: typeof real.govern = (state, mode, limits, volts, stepMs, rig) => {
    if (broken.part === 'governor without a slope' && mode === 'govern') {
      const { least, slopeAPerS } = real.govern(state, mode, limits, volts, stepMs, rig);
      return { state: { setpointA: least.currentA }, least, slopeAPerS };
    }
    const heard =
      broken.part === 'governor deaf to the rafts'
        ? limits.filter((l) => !/raft|cell/.test(l.limit))
        : limits;
    return real.govern(state, mode, heard, volts, stepMs, rig);
  };
  return { ...real, govern };
});
vi.mock('../../src/supervisor/findings.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/findings.js')>();
  class Findings extends real.Findings {
    override acting(nowMs: number) {
      return broken.part === 'findings that never act' ? null : super.acting(nowMs);
    }
  }
  return { ...real, Findings };
});
vi.mock('../../src/supervisor/observe.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/observe.js')>();
  class Readings extends real.Readings {
    override observe(c: Parameters<InstanceType<typeof real.Readings>['observe']>[0]) {
      const seen = super.observe(c);
      if (broken.part !== 'every reading is new' || seen.stop === null) return seen;
      return { ...seen, stop: { ...seen.stop, ageMs: 0 } };
    }
  }
  return { ...real, Readings };
});
vi.mock('../../src/link/codec.js', async (original) => {
  const real = await original<typeof import('../../src/link/codec.js')>();
  const { checkOf } = await import('../../src/audit/line-reader.js');
  const decodeToSupervisor: typeof real.decodeToSupervisor = (line) => {
    const decoded = real.decodeToSupervisor(line);
    if (broken.part !== 'codec deaf to the check' || decoded.ok || decoded.why !== 'bad-crc') return decoded;
    const text = line.slice(0, -9);
    return real.decodeToSupervisor(`${text}*${checkOf(text)}`);
  };
  return { ...real, decodeToSupervisor };
});
vi.mock('../../src/supervisor/timers.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/timers.js')>();
  const timerMs: typeof real.timerMs = (timer, rig) =>
    real.timerMs(timer, rig) * (broken.part === 'deadlines four times as long' ? 4 : 1);
  return { ...real, timerMs };
});
vi.mock('../../src/supervisor/outbox.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/outbox.js')>();
  class Outbox extends real.Outbox {
    override dispatch(...[orders, nowMs]: Parameters<InstanceType<typeof real.Outbox>['dispatch']>) {
      super.dispatch(orders, nowMs);
      if (broken.part === 'outbox that does not wait') this.synced(Number.POSITIVE_INFINITY, nowMs);
    }
  }
  return { ...real, Outbox };
});
vi.mock('../../src/journal/writer.js', async (original) => {
  const real = await original<typeof import('../../src/journal/writer.js')>();
  class JournalWriter extends real.JournalWriter {
    override record(...[nowMs, kind, body]: Parameters<InstanceType<typeof real.JournalWriter>['record']>) {
      const forgets =
        broken.part === 'journal that forgets frames' && kind === 'order' && !('durable' in (body as object));
      return forgets ? this.last : super.record(nowMs, kind, body);
    }
  }
  return { ...real, JournalWriter };
});
vi.mock('../../src/supervisor/gate.js', async (original) => {
  const real = await original<typeof import('../../src/supervisor/gate.js')>();
  const askGate: typeof real.askGate = (order, view) =>
    broken.part === 'gate that lets all out' ? null : real.askGate(order, view);
  return { ...real, askGate };
});

beforeEach(() => {
  broken.part = '';
  broken.machine = null;
});
afterEach(() => {
  broken.part = '';
  broken.machine = null;
});

// biome-ignore lint/suspicious/noExplicitAny: each check keeps a state of its own type
type Checks = readonly Check<any>[];
/** All checks, with one that says what it must not. */
const withCheck = (
  name: string,
  change: (result: ReturnType<Check<unknown>['run']>) => object,
  among: Checks = CHECKS,
): Checks =>
  among.map((check) =>
    check.name !== name
      ? check
      : {
          ...check,
          run: (...given: Parameters<typeof check.run>) => {
            const result = check.run(...given);
            return { ...result, ...change(result) };
          },
        },
  );
const mute = (name: string): Checks => withCheck(name, () => ({ findings: [] }));
const claims = (name: string, ...proofs: Proof[]): Checks =>
  withCheck(name, ({ proofs: own = [] }) => ({ findings: [], proofs: [...new Set([...own, ...proofs])] }));

interface Copy {
  readonly breaks: InvariantId;
  readonly copy: string;
  /** Further invariants the same mistake must break. */
  readonly also?: readonly InvariantId[];
  readonly scenario: string;
  readonly change?: Partial<Scenario>;
  readonly machine?: string;
  readonly checks?: Checks;
}
const frozen = (part: string): Partial<Scenario> => ({
  inject: [{ fault: 'sensor-frozen', part, phase: 'holding', afterS: 1 }],
});
const COPIES: readonly Copy[] = [
  {
    breaks: 'I1',
    copy: 'machine that closes without a match',
    machine: 'the poles close without a match',
    // The gate asks for the match as well: it has to be mistaken too.
    checks: claims('voltage-match', 'voltage-matched'),
    scenario: 'short-top-up',
  },
  {
    breaks: 'I2',
    copy: 'check that takes every pole for closed',
    checks: claims('contactors', 'closed-p', 'closed-n', 'poles-follow'),
    scenario: 'contactor-wont-close',
  },
  { breaks: 'I3', copy: 'governor without a slope', scenario: 'short-top-up' },
  { breaks: 'I4', copy: 'findings that never act', scenario: 'loop-opened' },
  {
    breaks: 'I4',
    copy: 'machine that only ramps down',
    machine: 'a trip-0 while holding only ramps down',
    scenario: 'loop-opened',
  },
  {
    breaks: 'I5',
    // One of the two alone frees nothing: a live plug is kept by the check of the train as well.
    copy: 'checks that take any voltage for dead, and any train for open',
    also: ['I10'],
    checks: withCheck(
      'train-contactors',
      ({ proofs = [] }) => ({ proofs: [...proofs, 'train-open'] }),
      claims('residual', 'output-dead', 'plug-dead'),
    ),
    scenario: 'bleeder-dead',
  },
  {
    breaks: 'I6',
    copy: 'machine that does not latch',
    machine: 'a trip is not latched',
    scenario: 'loop-opened',
  },
  {
    breaks: 'I6',
    copy: 'gate that lets all out',
    // By the time the order leaves, make-safe has taken the output away again.
    also: ['I1'],
    scenario: 'short-top-up',
    // The order to close P waits for the journal while the trip comes.
    change: {
      inject: [
        { fault: 'journal-slow', magnitude: 400, phase: 'start' },
        { fault: 'loop-open', phase: 'closing', afterS: 0.05 },
      ],
    },
  },
  {
    breaks: 'I7',
    copy: 'check of ages that says nothing',
    checks: mute('freshness'),
    scenario: 'short-top-up',
    change: frozen('berth'),
  },
  { breaks: 'I7', copy: 'every reading is new', scenario: 'short-top-up', change: frozen('stop') },
  { breaks: 'I8', copy: 'codec deaf to the check', scenario: 'link-noisy' },
  {
    breaks: 'I9',
    copy: 'check of cells that says nothing',
    checks: mute('cells'),
    scenario: 'short-top-up',
    change: { inject: [{ fault: 'cell-too-low', magnitude: 1.5, phase: 'holding', afterS: 1 }] },
  },
  { breaks: 'I10', copy: 'deadlines four times as long', scenario: 'voltmeter-dead' },
  {
    breaks: 'I11',
    copy: 'outbox that does not wait',
    // It is ahead of the records that give the proofs, too.
    also: ['I1', 'I2'],
    scenario: 'short-top-up',
  },
  { breaks: 'I11', copy: 'journal that forgets frames', scenario: 'short-top-up' },
  {
    breaks: 'I12',
    copy: 'check of the stand that says nothing',
    checks: claims('securing', 'secured'),
    scenario: 'latch-wont-lock',
    change: { wish: { targetEnergyKwh: 0.05 } },
  },
];

async function judged({ scenario: name, change = {}, checks, copy, machine }: Copy, whole: boolean) {
  const scenario = { ...loadScenario(name), ...change };
  if (!whole) {
    broken.part = copy;
    if (machine !== undefined) {
      const real = (
        await vi.importActual<typeof import('../../machines/session.js')>('../../machines/session.js')
      ).sessionMachine as SessionMachine;
      broken.machine = brokenMachines(real).find((m) => m.name === machine)?.machine;
      expect(broken.machine).toBeDefined();
    }
  }
  const judge = new Judge();
  const run = await withTemporaryFolder((folder) =>
    runJudged(
      { loaded: loadRig(scenario.rig), scenario, stateDir: folder, ...(checks && !whole ? { checks } : {}) },
      judge,
    ),
  );
  return { ...run, judge };
}

describe('a copy with one mistake', () => {
  it('covers every invariant', () => {
    expect([...new Set(COPIES.map((c) => c.breaks))]).toEqual(OBSERVED.map((i) => i.id));
  });
  it.each(COPIES)('$copy: caught by $breaks', async (copy) => {
    const { judge, fault, breaches } = await judged(copy, false);
    expect(fault).toBeNull();
    const meant = [copy.breaks, ...(copy.also ?? [])];
    expect([...judge.broken].sort(), breaches.map(tellBreach).join('\n')).toEqual(meant.sort());
  });
  it.each(COPIES.filter((c) => c.change !== undefined))(
    'the whole one instead of "$copy": nothing is broken',
    async (copy) => {
      expect((await judged(copy, true)).breaches).toEqual([]);
    },
  );
});
