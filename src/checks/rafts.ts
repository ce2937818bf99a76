/**
 * Which rafts are on the bus: joining them one by one, lowest voltage first, each only when the difference
 * over the resistance of the loop stays under its join current; noticing who parts or falls silent.
 */
import type { Rig } from '../rig/schema.js';
import { type Check, type Finding, isFresh, type Observation, type Proof } from './check.js';
import { flag, state, stateWatch } from './finding.js';
import { perRig } from './per-rig.js';
import { between, underCurrent } from './phases.js';
import { CALM, ripe, type Watch, watch } from './watch.js';
import { isBattery, portOf, raftName, raftOhm } from './where.js';

export interface RaftsState {
  readonly wasJoined: readonly boolean[];
  readonly silentSinceMs: readonly number[];
  readonly dropped: readonly Watch[];
  /** Since when nobody may join any more and nobody is on the way; NaN while somebody is. */
  readonly settledMs: number;
  readonly noneSinceMs: number;
}

/** Indices of the rafts that are batteries. */
const batteries = perRig((rig) => [...rig.battery.rafts.keys()].filter((raft) => isBattery(rig, raft)));

/** A raft ordered to join is waited for this long. */
const JOIN_MS = 2000;
/** Nobody may join for this long: the rest are left out. */
const SETTLED_MS = 1000;
/** Nobody could be joined at all for this long: no session. */
const NONE_MS = 5000;
const JOINED = flag(1, 'raft.joined');

/** Current that would flow if this raft were joined now; 0 onto a dead bus. NaN when it cannot be told. */
export function joiningA(seen: Observation, raft: number, rig: Rig): number {
  const reading = seen.rafts[raft]?.value;
  const trainV = seen.train?.value.trainV ?? Number.NaN;
  if (reading === undefined) return Number.NaN;
  const joined = seen.joined;
  // Nothing on the bus: only its capacitance, which the raft's own pre-charge sees to.
  if (joined.length === 0) return Math.abs(trainV) <= rig.bleeder.safeV ? 0 : Number.NaN;
  const busOhm = joined.reduce((s, j) => s + 1 / raftOhm(rig, seen.rafts[j]?.value.cellMinC ?? 25), 0);
  return Math.abs(reading.packV - trainV) / (raftOhm(rig, reading.cellMinC) + 1 / busOhm);
}

/**
 * Fit to be on the bus at all: fresh, no alarm, isolated, inside its window. One that is full is left out, whatever the
 * others still take: on the bus it would be charged with them. Where a management unit tells no state of charge its
 * cells alone speak.
 */
function isFit(seen: Observation, raft: number, rig: Rig): boolean {
  const reading = seen.rafts[raft] ?? null;
  if (!isFresh(reading, rig.link.slowReadingMs)) return false;
  const v = reading.value;
  const limits = rig.battery.raft;
  return (
    v.alarm <= 1 &&
    v.isolationOhm >= limits.minIsolationOhmPerVolt * v.packV &&
    v.cellMinV >= limits.minCellV &&
    v.cellMaxV <= limits.maxCellV &&
    !(v.soc >= rig.battery.ceilingSoc)
  );
}

function mayJoin(seen: Observation, wasJoined: readonly boolean[], rig: Rig): number | undefined {
  if (seen.train?.value.closedP !== 1 || seen.train.value.closedN !== 1) return undefined;
  if (!isFresh(seen.train, rig.link.slowReadingMs) || isJoining(seen)) return undefined;
  const candidates = batteries(rig)
    .filter((raft) => !seen.ordered.raftJoined[raft] && !wasJoined[raft])
    .filter((raft) => seen.rafts[raft]?.value.joined === 0 && isFit(seen, raft, rig))
    .sort((a, b) => (seen.rafts[a]?.value.packV ?? 0) - (seen.rafts[b]?.value.packV ?? 0));
  return candidates.find((raft) => joiningA(seen, raft, rig) <= rig.battery.raft.joinCurrentA);
}

/** One at a time: somebody was ordered to join and has not said so yet. */
const isJoining = (seen: Observation): boolean =>
  seen.ordered.sinceMs.rafts < JOIN_MS &&
  seen.ordered.raftJoined.some((ordered, raft) => ordered && seen.rafts[raft]?.value.joined !== 1);

export const rafts: Check<RaftsState> = {
  name: 'rafts',
  codes: ['raft-left-out', 'raft-dropped', 'raft-silent', 'no-raft-joined'],
  initial: (rig) => ({
    wasJoined: rig.battery.rafts.map(() => false),
    silentSinceMs: rig.battery.rafts.map(() => Number.NaN),
    dropped: rig.battery.rafts.map(() => CALM),
    settledMs: Number.NaN,
    noneSinceMs: Number.NaN,
  }),
  run(before, seen, rig) {
    if (!between(seen.phase, 'joining-train', 'ramping-down') && !underCurrent(seen.phase)) {
      return { state: rafts.initial(rig), findings: [] };
    }
    const { nowMs } = seen;
    const wasJoined = before.wasJoined.map((was, i) => was || seen.rafts[i]?.value.joined === 1);
    const dropped = before.dropped.map((w, i) => {
      const raft = seen.rafts[i] ?? null;
      return watch(w, !before.wasJoined[i] || raft?.value.joined === 1, raft?.isNew ?? false, nowMs);
    });
    const silentSinceMs = before.silentSinceMs.map((sinceMs, i) =>
      wasJoined[i] && isSilent(seen, i, rig) ? (Number.isNaN(sinceMs) ? nowMs : sinceMs) : Number.NaN,
    );
    const joined = seen.joined;
    const trainClosed = seen.train?.value.closedP === 1 && seen.train.value.closedN === 1;
    const next = mayJoin(seen, wasJoined, rig);
    const isSettled = trainClosed && next === undefined && !isJoining(seen);
    const settledMs = isSettled ? (Number.isNaN(before.settledMs) ? nowMs : before.settledMs) : Number.NaN;
    // Under way nobody may be missing for a moment; while joining the first raft is given its time.
    const none = joined.length === 0 && isSettled;
    const noneSinceMs = none ? (Number.isNaN(before.noneSinceMs) ? nowMs : before.noneSinceMs) : Number.NaN;
    const s: RaftsState = { wasJoined, silentSinceMs, dropped, settledMs, noneSinceMs };
    const proofs = standing(s, joined, seen, rig);
    // Onto a bus under way only while the current is steady; a raft that parted is not taken back.
    const offer =
      between(seen.phase, 'joining-train', 'joining-train') || between(seen.phase, 'holding', 'tapering');
    return {
      state: s,
      findings: statements(s, joined, proofs, seen, rig),
      proofs,
      ...(offer && next !== undefined ? { mayJoinRaft: next } : {}),
    };
  },
};

/** No fresh readings although its port still talks (a silent port is the freshness check's business). */
export function isSilent(seen: Observation, raft: number, rig: Rig): boolean {
  const ageMs = seen.rafts[raft]?.ageMs ?? Number.POSITIVE_INFINITY;
  const portSilentMs = seen.portSilentMs[portOf(rig, 'raft', raft)] ?? Number.POSITIVE_INFINITY;
  return !(ageMs <= rig.link.slowReadingMs) && portSilentMs <= 1.5 * rig.link.periodMs;
}

function standing(s: RaftsState, joined: readonly number[], seen: Observation, rig: Rig): readonly Proof[] {
  const fresh = joined.every((raft) => isFresh(seen.rafts[raft] ?? null, rig.link.slowReadingMs));
  const count = joined.filter((raft) => isBattery(rig, raft)).length;
  if (!fresh || count === 0) return [];
  if (count === batteries(rig).length) return ['rafts-joined-all'];
  return seen.nowMs - s.settledMs >= SETTLED_MS ? ['rafts-joined-some'] : [];
}

function statements(
  s: RaftsState,
  joined: readonly number[],
  proofs: readonly Proof[],
  seen: Observation,
  rig: Rig,
): Finding[] {
  const findings: Finding[] = [];
  const { nowMs } = seen;
  const age = { limit: rig.link.slowReadingMs, unit: 'ms', setting: 'link.slowReadingMs' };
  const joinLimit = {
    limit: rig.battery.raft.joinCurrentA,
    unit: 'A',
    setting: 'battery.raft.joinCurrentA',
  };
  for (let raft = 0; raft < rig.battery.rafts.length; raft++) {
    const part = raftName(rig, raft);
    const ageMs = seen.rafts[raft]?.ageMs ?? Number.POSITIVE_INFINITY;
    const silentMs = s.silentSinceMs[raft]!;
    const isNowSilent = !Number.isNaN(silentMs);
    findings.push(state('raft-silent', isNowSilent, ageMs, age, isNowSilent ? silentMs : nowMs, part));
    const reading = seen.rafts[raft]?.value.joined ?? Number.NaN;
    const drop = s.dropped[raft]!;
    findings.push(stateWatch('raft-dropped', drop, 2, 0, reading, JOINED, nowMs, part));
    if (!isBattery(rig, raft)) continue;
    const leftOut = !joined.includes(raft) && !s.wasJoined[raft] && proofs.includes('rafts-joined-some');
    findings.push(state('raft-left-out', leftOut, joiningA(seen, raft, rig), joinLimit, nowMs, part));
  }
  const droppedAll = s.wasJoined.some(Boolean) && joined.length === 0 && s.dropped.some((w) => ripe(w, 2));
  const none = droppedAll || nowMs - s.noneSinceMs >= NONE_MS;
  const sinceMs = none && !Number.isNaN(s.noneSinceMs) ? s.noneSinceMs : nowMs;
  findings.push(state('no-raft-joined', none, joined.length, flag(1, 'battery.rafts'), sinceMs));
  return findings;
}
