/**
 * Silence in all its forms: a port without frames, a role without new samples, a device that made itself safe.
 *
 * A role is named stale only when frames of its port still arrive: when they do not, every role of the port
 * is old for one and the same reason, and the truthful code is `link-silent`, raised at whichever deadline is
 * met first.
 */
import type { AssignableRole } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Check, Finding, Observation } from './check.js';
import { type Against, flag, state } from './finding.js';
import { perRig } from './per-rig.js';
import { inSession } from './phases.js';
import { portOf } from './where.js';

type Single = Exclude<AssignableRole, 'raft'>;

const FAST: readonly Single[] = ['converter', 'meter', 'contactor', 'latch', 'berth', 'stop', 'loop'];
const SLOW: readonly Single[] = ['isolation', 'bleeder', 'train', 'supply'];

/** How old a reading of this role may be. Rafts are slow too: what watches over them says so itself (rafts.ts). */
export const readingDeadlineMs = (role: AssignableRole, rig: Rig): number =>
  (FAST as readonly string[]).includes(role) ? rig.link.fastReadingMs : rig.link.slowReadingMs;

export interface FreshnessState {
  /** First observation at which a part was too old, by `code:part`. */
  readonly sinceMs: Readonly<Record<string, number>>;
}

/** The shortest reading deadline among the roles of a port: silence of the port breaks it. */
function leastDeadline(rig: Rig, roles: readonly string[]): { limit: number; setting: string } {
  const hasFast = roles.some((role) => (FAST as readonly string[]).includes(role));
  const readingMs = hasFast ? rig.link.fastReadingMs : rig.link.slowReadingMs;
  return readingMs < rig.link.silenceMs
    ? { limit: readingMs, setting: hasFast ? 'link.fastReadingMs' : 'link.slowReadingMs' }
    : { limit: rig.link.silenceMs, setting: 'link.silenceMs' };
}

/** Which port may be silent and which reading old, for how long, in the order they are stated. */
const deadlines = perRig((rig) => {
  const against = (limit: number, setting: string): Against => ({ limit, unit: 'ms', setting });
  const fast = against(rig.link.fastReadingMs, 'link.fastReadingMs');
  const slow = against(rig.link.slowReadingMs, 'link.slowReadingMs');
  const served = [
    ...FAST.filter((role) => role !== 'loop' || rig.pilot !== undefined).map((role) => ({
      role,
      against: fast,
    })),
    ...SLOW.map((role) => ({ role, against: slow })),
  ];
  return {
    ports: rig.link.ports.map(({ name, roles }) => {
      const { limit, setting } = leastDeadline(rig, roles);
      return { name, against: against(limit, setting) };
    }),
    roles: served.map((each) => ({ ...each, port: portOf(rig, each.role) })).filter((each) => each.port >= 0),
  };
});

/** Old because nothing comes from the port, not because the counter stands. */
const portIsQuiet = (seen: Observation, rig: Rig, port: number): boolean =>
  (seen.portSilentMs[port] ?? Number.POSITIVE_INFINITY) > 1.5 * rig.link.periodMs;

function statesNow(seen: Observation, rig: Rig): Finding[] {
  const found: Finding[] = [];
  const { ports, roles } = deadlines(rig);
  for (let index = 0; index < ports.length; index++) {
    const silentMs = seen.portSilentMs[index] ?? Number.POSITIVE_INFINITY;
    const { name, against } = ports[index]!;
    found.push(state('link-silent', !(silentMs <= against.limit), silentMs, against, seen.nowMs, name));
  }
  for (const { role, port, against } of roles) {
    const ageMs = seen[role]?.ageMs ?? Number.POSITIVE_INFINITY;
    const failing = !(ageMs <= against.limit) && !portIsQuiet(seen, rig, port);
    found.push(state('reading-stale', failing, ageMs, against, seen.nowMs, role));
  }
  return found;
}

function deviceStates(seen: Observation, rig: Rig): Finding[] {
  const found: Finding[] = [];
  for (const [index, port] of rig.link.ports.entries()) {
    const device = seen.device[index];
    if (!device) continue;
    const { latched, madeSafe } = device.value;
    if (seen.phase === 'parked') {
      found.push(
        state('device-latched', !(latched === 0), latched, flag(0, 'device.latched'), seen.nowMs, port.name),
      );
    } else if (
      (inSession(seen.phase) || seen.phase === 'tripped-ramping-down') &&
      // A latch from before is a refusal of its own; what the device does after our order is obedience.
      seen.ordered.sinceMs.makeSafe === Number.POSITIVE_INFINITY
    ) {
      const ok = latched === 0 && madeSafe === 0;
      found.push(state('device-made-safe', !ok, madeSafe, flag(0, 'device.madeSafe'), seen.nowMs, port.name));
    }
  }
  return found;
}

export const freshness: Check<FreshnessState> = {
  name: 'freshness',
  codes: ['reading-stale', 'link-silent', 'device-made-safe', 'device-latched'],
  initial: () => ({ sinceMs: {} }),
  run(before, seen, rig) {
    // After the end nothing is being decided any more, and a device may be unplugged.
    if (seen.phase === 'released') return { state: { sinceMs: {} }, findings: [] };
    const sinceMs: Record<string, number> = {};
    const now = statesNow(seen, rig);
    for (const found of deviceStates(seen, rig)) now.push(found);
    const findings = now.map((found) => {
      if (!found.failing) return found;
      const key = `${found.code}:${found.part}`;
      sinceMs[key] = before.sinceMs[key] ?? seen.nowMs;
      return { ...found, sinceMs: sinceMs[key] };
    });
    return { state: { sinceMs }, findings };
  },
};
