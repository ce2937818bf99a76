/**
 * The state of the whole in words that can be read from across a workshop. The worst that is known leads; where
 * something is not known that is said, and never taken for dead.
 */
import type { About, Snapshot } from './contract.js';
import { figure, plain } from './words.js';

/** What a side of the circuit carries: over the touch-safe voltage, under it, or nobody knows. */
export type Potential = 'live' | 'under' | 'unknown';
export type Side = 'output' | 'plug' | 'train';

export interface SideState {
  readonly side: Side;
  readonly potential: Potential;
  /** Volts pole to pole as last read, fresh or not; null where none was. */
  readonly volts: number | null;
  /** The greatest any voltmeter of that side reads now, a pole to chassis included. */
  readonly greatestV: number | null;
  readonly fresh: boolean;
}

/** A figure that counts: null where it is stale or cannot be read. */
export function fresh(snapshot: Snapshot, role: string, field: string): number | null {
  const readings = snapshot.readings[role];
  return readings === undefined || readings.stale ? null : (readings.values[field] ?? null);
}

/** The figure as last read, whatever its age. */
export const last = (snapshot: Snapshot, role: string, field: string): number | null =>
  snapshot.readings[role]?.values[field] ?? null;

/** Every voltmeter that looks at a side; all of those `needed` must read under before it counts as under. */
const METERS: Record<Side, { needed: readonly [string, string][]; also: readonly [string, string][] }> = {
  output: {
    needed: [
      ['meter', 'outputV'],
      ['meter', 'outputPositiveV'],
      ['meter', 'outputNegativeV'],
    ],
    also: [['converter', 'outputV']],
  },
  plug: {
    needed: [
      ['meter', 'plugV'],
      ['meter', 'plugPositiveV'],
      ['meter', 'plugNegativeV'],
    ],
    also: [],
  },
  train: { needed: [['train', 'trainV']], also: [] },
};

export function sideState(snapshot: Snapshot, side: Side, safeV: number): SideState {
  const { needed, also } = METERS[side];
  const [role, field] = needed[0] as [string, string];
  const volts = last(snapshot, role, field);
  const read = needed.map(([r, f]) => fresh(snapshot, r, f));
  const all = [...read, ...also.map(([r, f]) => fresh(snapshot, r, f))];
  const sizes = all.filter((v) => v !== null).map(Math.abs);
  const greatestV = sizes.length === 0 ? null : Math.max(...sizes);
  const over = greatestV !== null && greatestV > safeV;
  // Positively: a figure that is missing leaves it unknown.
  const under = read.every((v) => v !== null && Math.abs(v) <= safeV);
  return {
    side,
    potential: over ? 'live' : under ? 'under' : 'unknown',
    volts,
    greatestV,
    fresh: read[0] !== null,
  };
}

export const SIDES: readonly Side[] = ['output', 'plug', 'train'];
export const SIDE_WORDS: Record<Side, string> = { output: 'output', plug: 'plug', train: 'train bus' };

/** `live 702.4 V`, `under 60 V: 3.1 V`, `not known`; an old figure says that it is old. */
export function potentialWords(state: SideState, safeV: number): string {
  const volts = figure(state.volts, 'V');
  if (state.potential === 'live') {
    // Little from pole to pole, and a pole that stands off chassis all the same.
    const between = state.volts !== null && Math.abs(state.volts) > safeV;
    return between ? `LIVE ${volts}` : `LIVE ${figure(state.greatestV, 'V')} to chassis`;
  }
  if (state.potential === 'under') return `under ${safeV} V: ${volts}`;
  return state.volts === null ? 'not known' : `not known, last ${volts}`;
}

/**
 * The volts that people come near: the greatest on output and plug. Null where one side is not known and the other
 * would make it look harmless.
 */
export function nearVolts(snapshot: Snapshot, safeV: number): number | null {
  const near = (['output', 'plug'] as const).map((side) => sideState(snapshot, side, safeV));
  const greatest = Math.max(...near.map((s) => s.greatestV ?? 0));
  const known = greatest > safeV || near.every((s) => s.potential === 'under');
  return known ? greatest : null;
}

export type Kind = 'rest' | 'live' | 'unknown' | 'warning' | 'alarm';

export interface Situation {
  readonly kind: Kind;
  /** Drawn before the word: what colour alone must not say. */
  readonly shape: string;
  readonly word: string;
  readonly detail: string;
}

const SHAPES: Record<Kind, string> = { rest: '■', live: '▲', unknown: '?', warning: '◆', alarm: '✕' };
const make = (kind: Kind, word: string, detail: string): Situation => ({
  kind,
  shape: SHAPES[kind],
  word,
  detail,
});

/** All of them together are what is called proven dead. */
/** As the supervisor has it (PROVEN_SAFE); a test holds the two together. */
export const DEAD = ['open-p', 'open-n', 'output-dead', 'plug-dead', 'train-open'];

export const proven = (snapshot: Snapshot, ...proofs: string[]): boolean =>
  proofs.some((name) => snapshot.proofs.some((p) => p.proof === name && p.state === 'standing'));

/** As `proven`, or proven earlier in this session: what a pole did once need not be shown again. */
export const shown = (snapshot: Snapshot, ...proofs: string[]): boolean =>
  proofs.some((name) =>
    snapshot.proofs.some((p) => p.proof === name && (p.state === 'standing' || p.state === 'made')),
  );

const codeWords = (about: About, code: string): string => about.codes[code]?.text ?? plain(code);

/** What first tripped it, where the snapshot or its latch says so. */
export function tripWords(about: About, snapshot: Snapshot): string {
  const code = snapshot.latch?.code ?? snapshot.findings.find((f) => f.failing)?.code;
  return code === undefined ? 'tripped' : codeWords(about, code);
}

export function situation(about: About, snapshot: Snapshot): Situation {
  const { safeV } = about.rig;
  const sides = SIDES.map((side) => sideState(snapshot, side, safeV));
  const inWords = sides.map((s) => `${SIDE_WORDS[s.side]} ${potentialWords(s, safeV)}`).join(' · ');
  if (
    snapshot.phase === 'not-proven-dead' ||
    (snapshot.latch !== null && snapshot.latch.provenDead === false)
  )
    return make('alarm', 'KEEP AWAY', inWords);
  if (snapshot.tripped) return make('alarm', 'TRIPPED', inWords);
  if (snapshot.latch !== null) {
    const dead =
      snapshot.latch.provenDead === true ? 'proven dead when it ended' : 'whether it is dead is not known';
    return make('warning', 'TRIP LATCHED', `${dead} · ${inWords}`);
  }
  // The train's own bus is live with the train's contactors open; what hands come near leads.
  const near = sides.filter((s) => s.side !== 'train');
  if (near.some((s) => s.potential === 'live')) return make('live', 'LIVE', inWords);
  if (near.some((s) => s.potential === 'unknown')) return make('unknown', 'NOT KNOWN', inWords);
  if (sides.some((s) => s.potential === 'live')) return make('live', 'TRAIN LIVE', inWords);
  if (sides.some((s) => s.potential === 'unknown')) return make('unknown', 'NOT KNOWN', inWords);
  const dead = DEAD.every((proof) => proven(snapshot, proof)) ? 'proven dead' : 'as read, not proven';
  return make('rest', `UNDER ${safeV} V`, `${dead} · ${inWords}`);
}

/** What the phase proves or does, where its name alone does not say it. */
export const phaseWords = (about: About, phase: string): string =>
  about.phases.find((p) => p.phase === phase)?.text ?? '';
