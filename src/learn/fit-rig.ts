/**
 * Figures of one rig from many of its sessions, each with its 95 % interval beside what the rig says now; what the
 * record cannot tell, with the reason; and which sessions were left out, with theirs. Nothing is changed by it.
 */
import type { Rig } from '../rig/schema.js';
import { type Combined, combine, type Found } from './combine.js';
import type { HeatingFound } from './heating.js';
import type { LeftOut, SessionFound } from './session.js';
import { type Told, tells } from './told.js';

export interface Fitted {
  /** Of the rig; null: the rig has no such figure, it is for people. */
  readonly key: string | null;
  readonly title: string;
  readonly unit: string;
  readonly now: number | null;
  /** `apart`: the interval does not hold the value now. */
  readonly verdict: 'apart' | 'agrees' | 'told' | 'cannot-tell';
  /** null: the record cannot tell. */
  readonly fitted: number | null;
  readonly low: number | null;
  readonly high: number | null;
  /** That told it. */
  readonly sessions: number;
  /** What the interval rests on, or why the record cannot tell. */
  readonly because: string;
}

export interface RaftFactor {
  readonly raft: string;
  readonly factor: number | null;
  readonly low: number | null;
  readonly high: number | null;
  readonly sessions: number;
}

export interface RigFit {
  readonly rig: string;
  readonly rigHash: string;
  readonly sessions: number;
  readonly rehearsals: number;
  readonly firstWallMs: number;
  readonly lastWallMs: number;
  readonly fitted: readonly Fitted[];
  /** By raft, on all resistances of its cells: which of them is not as the others. */
  readonly rafts: readonly RaftFactor[];
  readonly leftOut: readonly LeftOut[];
}

/** Instruments of class 0.5 (IEC 60051) for current and volts: no number of sessions shows what they share. */
const INSTRUMENT = { resistance: 0.005, heat: 0.01 } as const;
/** From so many sessions on, their own scatter says how far they differ. */
const ENOUGH_SESSIONS = 3;

/**
 * One rig of those that were read.
 * @param rigHash the one that is meant; null: the one with the most sessions
 * @returns null when there is none
 */
export function fitRig(read: readonly (SessionFound | LeftOut)[], rigHash: string | null): RigFit | null {
  const leftOut = read.filter((r): r is LeftOut => 'why' in r);
  const sound = read.filter((r): r is SessionFound => !('why' in r));
  const meant = rigHash ?? mostFrequent(sound);
  const own = sound.filter((s) => s.rigHash === meant);
  const first = own[0];
  if (first === undefined || meant === null) return null;
  for (const s of sound) if (s.rigHash !== meant) leftOut.push({ file: s.file, why: otherRig(s, first) });
  const kept: SessionFound[] = [];
  const isReal = own.some(({ rehearsal }) => !rehearsal);
  for (const s of own) {
    const same = kept.find(({ head }) => head === s.head);
    if (same !== undefined) leftOut.push({ file: s.file, why: `a copy of ${same.file}` });
    else if (isReal && s.rehearsal)
      leftOut.push({ file: s.file, why: 'a rehearsal among real sessions: it tells of the model' });
    else kept.push(s);
  }
  const rig = first.figures;
  const times = kept.map(({ wallMs }) => wallMs);
  return {
    ...{ rig: first.rig, rigHash: meant, sessions: kept.length },
    rehearsals: kept.filter(({ rehearsal }) => rehearsal).length,
    firstWallMs: times.reduce((a, b) => Math.min(a, b)),
    lastWallMs: times.reduce((a, b) => Math.max(a, b)),
    fitted: [...resistances(kept, rig), ...heating(kept, rig), ...supply(kept, rig)],
    rafts: byRaft(kept, rig),
    leftOut: leftOut.sort((a, b) => (a.file < b.file ? -1 : a.file > b.file ? 1 : 0)),
  };
}

/** Of as many, the one of the newest session. */
function mostFrequent(sessions: readonly SessionFound[]): string | null {
  const counts = new Map<string, { n: number; newestMs: number }>();
  for (const { rigHash, wallMs } of sessions) {
    const { n = 0, newestMs = wallMs } = counts.get(rigHash) ?? {};
    counts.set(rigHash, { n: n + 1, newestMs: Math.max(newestMs, wallMs) });
  }
  const [most] = [...counts].sort(([, a], [, b]) => b.n - a.n || b.newestMs - a.newestMs);
  return most?.[0] ?? null;
}

const otherRig = (s: SessionFound, meant: SessionFound): string =>
  s.rig === meant.rig
    ? `${s.rig} with other figures (rig hash ${s.rigHash.slice(0, 12)})`
    : `another rig: ${s.rig} (rig hash ${s.rigHash.slice(0, 12)})`;

interface Named {
  readonly key: string | null;
  readonly title: string;
  readonly unit: string;
  readonly now: number | null;
}

const FROM_ONE = 'one session: from what its own fit leaves over; how far sessions differ is not known';
const fromMany = (n: number): string => `from the scatter of ${n} sessions`;

function stated(named: Named, { value, low, high }: Combined, sessions: number, because: string): Fitted {
  const { now } = named;
  const verdict = now === null ? 'told' : now >= low && now <= high ? 'agrees' : 'apart';
  return { ...named, verdict, fitted: value, low, high, sessions, because };
}

const silent = (named: Named, because: string): Fitted => ({
  ...{ ...named, verdict: 'cannot-tell', fitted: null, low: null, high: null },
  ...{ sessions: 0, because },
});

/** Each reason once, the most frequent first. */
function reasons(told: readonly Told[]): string {
  const counts = new Map<string, number>();
  for (const t of told) if (!tells(t)) counts.set(t.why, (counts.get(t.why) ?? 0) + 1);
  const all = [...counts].sort(([, a], [, b]) => b - a).map(([why]) => why);
  return all.join('; ') || 'nothing recorded';
}

function fromSessions(named: Named, told: readonly Told[], share: number, note = ''): Fitted {
  const found = told.filter(tells);
  if (found.length === 0) return silent(named, reasons(told));
  const because = found.length === 1 ? FROM_ONE : fromMany(found.length);
  return stated(named, combine(found, share), found.length, note === '' ? because : `${because}; ${note}`);
}

const CELL = 'battery.raft.cell';

/** One factor for r0, r1 and r2, and for their tables. */
function resistances(sessions: readonly SessionFound[], rig: Rig): Fitted[] {
  const { r0Ohm, r1Ohm, r2Ohm } = rig.battery.raft.cell;
  const rows = (['r0Ohm', 'r1Ohm', 'r2Ohm'] as const).map((key, k) => ({
    key: `${CELL}.${key}`,
    title: `${key.slice(0, 2).toUpperCase()} of a cell`,
    unit: 'ohm',
    now: [r0Ohm, r1Ohm, r2Ohm][k]!,
  }));
  const bySession = sessions.map(({ rafts }) => rafts.map(({ factor }) => factor).filter(tells));
  const telling = bySession.filter((rafts) => rafts.length > 0);
  if (telling.length === 0) {
    const why = reasons(sessions.flatMap(({ rafts }) => rafts.map(({ factor }) => factor)));
    return rows.map((row) => silent(row, why));
  }
  const all = telling.flat();
  const enough = telling.length >= ENOUGH_SESSIONS;
  const factor = combine(enough ? telling.map(meanOf) : all, INSTRUMENT.resistance);
  const many = `from the scatter of ${all.length} rafts in ${telling.length === 1 ? 'one session' : `${telling.length} sessions`}`;
  const few = all.length === 1 ? `one raft in ${FROM_ONE}` : many;
  const because = enough ? fromMany(telling.length) : few;
  return rows.map((row) => {
    const times = (x: number): number => row.now * x;
    const { value, low, high } = factor;
    const scaled = { value: times(value), low: times(low), high: times(high) };
    return stated(row, scaled, telling.length, `one factor for all three, ${because}`);
  });
}

/** Rafts of one session, as one: what they share of the session is told once. */
function meanOf(rafts: readonly Found[]): Found {
  const n = rafts.length;
  return {
    value: rafts.reduce((sum, { value }) => sum + value, 0) / n,
    error: Math.sqrt(rafts.reduce((sum, { error }) => sum + error * error, 0)) / n,
  };
}

function byRaft(sessions: readonly SessionFound[], rig: Rig): RaftFactor[] {
  const names = rig.battery.rafts.filter(({ kind }) => kind === 'battery').map(({ name }) => name);
  return names.map((name) => {
    const of = sessions.flatMap(({ rafts }) => rafts.filter(({ raft }) => raft === name));
    const found = of.map(({ factor }) => factor).filter(tells);
    if (found.length === 0) return { raft: name, factor: null, low: null, high: null, sessions: 0 };
    const { value, low, high } = combine(found, INSTRUMENT.resistance);
    return { raft: name, factor: value, low, high, sessions: found.length };
  });
}

function heating(sessions: readonly SessionFound[], rig: Rig): Fitted[] {
  const { cable, contact } = rig.connection;
  return [
    ...warmed(
      'connection.cable',
      'cable',
      cable,
      sessions.map((s) => s.cable),
      '',
    ),
    ...warmed(
      'connection.contact',
      'contact',
      contact,
      sessions.map((s) => s.contact),
      'at the resistance of the rig: the record tells their product',
    ),
  ];
}

function warmed(
  key: string,
  title: string,
  now: { readonly thermalResistanceKPerW: number; readonly thermalTimeConstantS: number },
  found: readonly HeatingFound[],
  note: string,
): Fitted[] {
  const resistance: Named = {
    ...{ key: `${key}.thermalResistanceKPerW`, title: `thermal resistance of the ${title}`, unit: 'K/W' },
    now: now.thermalResistanceKPerW,
  };
  const time: Named = {
    ...{ key: `${key}.thermalTimeConstantS`, title: `thermal time constant of the ${title}`, unit: 's' },
    now: now.thermalTimeConstantS,
  };
  // Where any session is long enough to tell both, none that had to hold one of them counts beside it.
  const long = found.filter(({ timeConstant }) => tells(timeConstant));
  const counted = long.length > 0 ? long : found;
  const held = long.length > 0 ? [] : [`with the time constant held at ${now.thermalTimeConstantS} s`];
  return [
    fromSessions(
      resistance,
      counted.map((f) => f.resistance),
      INSTRUMENT.heat,
      [...held, ...(note === '' ? [] : [note])].join(', '),
    ),
    fromSessions(
      time,
      counted.map((f) => f.timeConstant),
      INSTRUMENT.heat,
    ),
  ];
}

function supply(sessions: readonly SessionFound[], rig: Rig): Fitted[] {
  const { kind, droopPercent = null, internalOhm = null } = rig.supply;
  const of = (pick: 'droopPercent' | 'voltageDropPercent' | 'internalOhm'): Told[] =>
    sessions.map((s) => s.supply[pick]);
  const drop: Named = {
    ...{ key: null, title: 'fall of the volts of the supply to rated power', unit: '%', now: null },
  };
  if (kind === 'store')
    return [
      fromSessions(
        {
          key: 'supply.internalOhm',
          title: 'internal resistance of the store',
          unit: 'ohm',
          now: internalOhm,
        },
        of('internalOhm'),
        INSTRUMENT.heat,
      ),
    ];
  const volts = fromSessions(drop, of('voltageDropPercent'), INSTRUMENT.heat);
  if (kind === 'feed') return [volts];
  const droop: Named = {
    key: 'supply.droopPercent',
    title: 'droop of the set',
    unit: '%',
    now: droopPercent,
  };
  return [fromSessions(droop, of('droopPercent'), INSTRUMENT.heat), volts];
}
