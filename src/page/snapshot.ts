/** The state of the moment as the page shows it. What is not known, or too old, says so; it never reads as zero. */
import type { Finding, Observation } from '../checks/check.js';
import { underCurrent } from '../checks/phases.js';
import { ASSIGNABLE_ROLES, type AssignableRole } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { orNull } from '../supervisor/outcome.js';
import type { Stand } from '../supervisor/stand.js';
import type { Snapshot } from './api.js';
import { CHAIN, codesOf, type ProofStanding, standingOf } from './chain.js';
import { isStale } from './fresh.js';
import type { Watch } from './watch.js';

type Readings = Snapshot['readings'];
type Statement = Snapshot['findings'][number];

const figureOf = (x: number): number | null => (Number.isFinite(x) ? Number(x.toPrecision(7)) : null);

function statementOf({ code, part, failing, reading, limit, unit, setting }: Finding): Statement {
  const held = { reading: figureOf(reading), limit: figureOf(limit), unit, setting };
  return { code, part: part ?? null, failing, ...held };
}

interface SeenAny {
  readonly value: Readonly<Record<string, number>>;
  readonly ageMs: number;
}

function readingsOf(seen: Observation | null, sinceMs: number, rig: Rig): Readings {
  const told: Readings = {};
  const take = (name: string, role: AssignableRole, one: SeenAny | null): void => {
    if (one === null) return;
    const ageMs = one.ageMs + sinceMs;
    const values = Object.fromEntries(
      Object.entries(one.value).map(([field, value]) => [field, figureOf(value)]),
    );
    told[name] = { ageMs: orNull(ageMs), stale: isStale(role, one, sinceMs, rig), values };
  };
  if (seen === null) return told;
  for (const role of ASSIGNABLE_ROLES) if (role !== 'raft') take(role, role, seen[role]);
  for (const [i, raft] of seen.rafts.entries()) take(`raft${i + 1}`, 'raft', raft);
  return told;
}

/** Links of the chain and what may be said of each, laid out once. */
const LINKS = [...CHAIN].map(([proof, link]) => ({ proof, link, codes: new Set<string>(codesOf(link)) }));

export function snapshotOf(
  stand: Stand,
  watch: Watch,
  more: Pick<Snapshot, 'n' | 'control' | 'bench'>,
): Snapshot {
  const { session, running, latch } = stand;
  const { rig } = stand.loaded;
  const display = session?.display ?? null;
  const seen = display?.seen ?? null;
  // What was last looked at is as old as that look.
  const sinceMs = seen === null ? 0 : Math.max(0, stand.sessionMs - seen.nowMs);
  const phase = session?.phase ?? 'parked';
  const readings = readingsOf(seen, sinceMs, rig);
  const said = display?.said?.findings ?? [];
  const view = {
    phase,
    trippedIn: seen?.trippedIn ?? null,
    stands: display?.proofs ?? new Set<string>(),
    made: watch.made,
  };
  // Between sessions nothing is looked at: what stood at the end of one was made then, and stands no more.
  const isLooked = running !== null;
  const proofs = LINKS.map(({ proof, link, codes }) => ({
    proof,
    state: isLooked ? standingOf(link, view, rig) : afterwards(standingOf(link, view, rig)),
    ageMs: readings[link.role === 'raft' ? 'raft1' : link.role]?.ageMs ?? null,
    statements: said.filter((f) => codes.has(f.code)).map(statementOf),
  }));
  return {
    ...more,
    atMs: watch.atMs,
    sessionMs: running === null ? null : stand.sessionMs,
    phase,
    phaseS: seen === null ? 0 : (seen.phaseMs + sinceMs) / 1000,
    running: running?.order ?? null,
    by: running?.by ?? null,
    tripped: session?.tripped ?? false,
    latch: latch.trip === null ? unfinished(stand) : latchOf(latch.trip),
    ended: watch.ended,
    readings,
    setpointA: orNull(display?.setpointA),
    // Outside the charge no limit binds: nothing may flow.
    leastA: underCurrent(phase) ? orNull(display?.leastA) : null,
    binding: underCurrent(phase) ? (display?.binding ?? '') : '',
    limits: (display?.said?.limits ?? []).map(({ limit, currentA }) => ({
      limit,
      currentA: orNull(currentA),
    })),
    energyToBatteryKwh: orNull(display?.energyKwh),
    proofs,
    findings: said.filter((f) => f.failing).map(statementOf),
  };
}

const afterwards = (state: ProofStanding): ProofStanding => (state === 'standing' ? 'made' : state);

const latchOf = ({ code, phase, journal, provenDead }: NonNullable<Stand['latch']['trip']>) => ({
  ...{ code, phase, journal, provenDead },
});

/** A session that never recorded its end while something was live counts as a trip; the one under way does not. */
function unfinished({ latch, running }: Stand): Snapshot['latch'] {
  const { open } = latch;
  if (open === null || !open.energised || running !== null) return null;
  return { code: 'unfinished-journal', phase: 'unknown', journal: open.journal, provenDead: null };
}
