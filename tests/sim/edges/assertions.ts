/**
 * What must be true of the circuit when the machine has come to stand in a state, one assertion for each state, told
 * by the truth of the bench alone. They hold with the faults that handlers.ts injects: none of those moves a contact.
 */
import type { SessionFlags } from '../../../machines/vocabulary.js';

export interface Stood {
  /** A column of the truth, see simulators/truth.ts. */
  get(column: string): number;
  readonly flags: SessionFlags;
  /** Names of the orders handed out in the very step that led here. */
  readonly orders: readonly string[];
}
/** @returns what is not as it must be; null when all is well */
export type Assertion = (stood: Stood) => string | null;

/** IEC 60204-1 6.2.4: 60 V, as every shipped rig has it in bleeder.safeV. */
const SAFE_V = 60;
/** Routine breaking current of the shipped rigs, contactors.routineBreakA. */
const BREAK_A = 5;
/** Furthest apart output and train may stand when a pole is ordered closed: the widest contactors.matchV shipped. */
const MATCH_V = 20;

const is =
  (columns: readonly string[], state: 0 | 1): Assertion =>
  ({ get }) => {
    const not = columns.filter((c) => get(c) !== state);
    return not.length === 0 ? null : `${not.join(', ')} not ${state === 1 ? 'closed' : 'open'}`;
  };
const closed = (...columns: string[]): Assertion => is(columns, 1);
const open = (...columns: string[]): Assertion => is(columns, 0);

const volts = (side: 'out' | 'plug' | 'train', get: Stood['get']): number =>
  get(`${side}PositiveV`) - get(`${side}NegativeV`);
const dead =
  (side: 'out' | 'plug'): Assertion =>
  ({ get }) => {
    const v = volts(side, get);
    return Math.abs(v) <= SAFE_V ? null : `${side} stands at ${v.toFixed(0)} V`;
  };
const live =
  (side: 'plug' | 'train'): Assertion =>
  ({ get }) => {
    const v = volts(side, get);
    return v > SAFE_V ? null : `${side} stands at ${v.toFixed(0)} V, and should be live`;
  };
const withoutCurrent: Assertion = ({ get }) =>
  Math.abs(get('lineA')) <= BREAK_A ? null : `${get('lineA').toFixed(1)} A flow`;
const ordered =
  (...names: string[]): Assertion =>
  ({ orders }) => {
    const not = names.filter((n) => !orders.includes(n));
    return not.length === 0 ? null : `${not.join(', ')} was not ordered in this step`;
  };
/** The rafts on the bus are as the flag says. */
const rafts: Assertion = ({ get, flags }) => {
  const joined: number[] = [];
  for (let n = 1; !Number.isNaN(get(`raft${n}Joined`)); n++) joined.push(get(`raft${n}Joined`));
  const count = joined.filter((j) => j === 1).length;
  const told = count === joined.length ? 'all' : count > 0 ? 'some' : 'none';
  return told === flags.rafts ? null : `${told} of the rafts are joined, the flag says ${flags.rafts}`;
};
const matched: Assertion = ({ get }) => {
  const apartV = Math.abs(volts('out', get) - volts('train', get));
  return apartV <= MATCH_V ? null : `output and train stand ${apartV.toFixed(0)} V apart`;
};
const all =
  (...assertions: readonly Assertion[]): Assertion =>
  (stood) => {
    const wrong = assertions.flatMap((a) => a(stood) ?? []);
    return wrong.length === 0 ? null : wrong.join('; ');
  };

const POLES = ['poleP', 'poleN'] as const;
const TRAIN = ['trainPoleP', 'trainPoleN'] as const;
const apart = open(...POLES, 'polePre', ...TRAIN);
const apartAndDead = all(apart, dead('out'), dead('plug'), withoutCurrent);
/** The plug is held while it is live. */
const held = closed('seated', 'locked', 'immobile');
const charging = all(closed(...POLES, ...TRAIN), open('polePre'), held);
/** The poles are closed; pre-charging, the pre-charge contactor may still be on its way open. */
const joined = all(closed(...TRAIN), live('train'), live('plug'), held);

export const ASSERTIONS: Readonly<Record<string, Assertion>> = {
  parked: apart,
  securing: all(apartAndDead, ordered('lock')),
  'proving-presence': all(apartAndDead, held),
  'checking-isolation': all(apartAndDead, held),
  'joining-train.closing-train': all(apartAndDead, held),
  'joining-train.joining-rafts': all(open(...POLES), closed(...TRAIN), held, dead('out')),
  'joining-train.checking-joined': all(open(...POLES), joined, dead('out'), rafts),
  'matching-voltage': all(open(...POLES, 'polePre'), joined, rafts, ordered('enable-converter')),
  'pre-charging': all(open(...POLES, 'polePre'), joined, rafts),
  'closing.pole-p': all(open('poleP'), joined, matched),
  'closing.pole-n': all(closed('poleP'), joined, matched),
  'closing.probing': all(closed(...POLES), joined, matched, ordered('enable-converter')),
  'ramping.to-hold-point': charging,
  'ramping.at-hold-point': charging,
  'ramping.onward': charging,
  holding: charging,
  tapering: charging,
  'ramping-down': charging,
  'opening.pole-p-moving': all(joined, withoutCurrent, ordered('open-p', 'disable-converter')),
  'opening.proving-p': all(open('poleP', 'polePre'), joined, withoutCurrent),
  'opening.proving-n': all(open('poleP'), joined, ordered('open-n')),
  'opening.draining-output': all(open(...POLES), joined),
  'parting-train': all(open(...POLES), dead('out'), ordered('open-train')),
  bleeding: all(apart, dead('out'), ordered('bleed-plug')),
  released: all(apartAndDead, ordered('unlock')),
  'tripped-ramping-down': charging,
  'making-safe': ordered('make-safe'),
  safe: apartAndDead,
  'not-proven-dead': all(open(...POLES), withoutCurrent),
};
