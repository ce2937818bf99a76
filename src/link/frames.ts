/**
 * What a frame can say, as types: the line protocol before it becomes text. PROTOCOL.md is the same for
 * people; codec.ts turns one into the other. Values are in the units of the dictionary (src/rig/roles.ts,
 * src/rig/orders.ts), NaN where the device cannot read.
 */
import type { Answer, Order } from '../rig/orders.js';
import {
  ASSIGNABLE_ROLES,
  type AssignableRole,
  MAX_RAFTS,
  type ReadingOf,
  ROLES,
  type Role,
} from '../rig/roles.js';

export const PROTOCOL_VERSION = 1;
/** Most orders in one frame; bounds the loops on both sides. */
export const MAX_ORDERS = 8;
/** Most samples in one `wave` frame, so that it always fits a line. */
export const WAVE_SAMPLES = 128;
/** Most parts of one burst. */
export const WAVE_PARTS = 64;

/** `to-device` is written `>`, `to-supervisor` is written `<`. */
export type Direction = 'to-device' | 'to-supervisor';

export type RaftRole = 'raft1' | 'raft2' | 'raft3' | 'raft4' | 'raft5' | 'raft6' | 'raft7' | 'raft8';
/** A role as one port serves it: rafts one by one. */
export type ServedRole = Exclude<AssignableRole, 'raft'> | RaftRole;

// ---- supervisor → device ----------------------------------------------------------------------------

/** Opens a session: what the rig expects of this port. The device adopts the nonce of the frame. */
export interface Hello {
  readonly verb: 'hello';
  /** Protocol version. */
  readonly version: number;
  readonly periodMs: number;
  readonly watchdogMs: number;
  readonly maxCurrentA: number;
  readonly maxVoltageV: number;
  readonly roles: readonly ServedRole[];
}

/** The only frame that feeds the device watchdog. */
export interface Feed {
  readonly verb: 'feed';
  /** Index in PHASES. */
  readonly phase: number;
}

/** An order the device does not understand; it stops there and answers with this code. */
export interface Misfit {
  readonly name: 'misfit';
  readonly answer: 'unknown-order' | 'bad-argument';
  /** Role tag and action as received. */
  readonly text: string;
}

export interface OrderFrame {
  readonly verb: 'order';
  /** 1 to MAX_ORDERS, carried out in this order. Encoding takes no misfit; decoding may give some. */
  readonly orders: readonly (Order | Misfit)[];
}

// ---- device → supervisor ----------------------------------------------------------------------------

export interface Welcome {
  readonly verb: 'welcome';
  readonly version: number;
  readonly model: string;
  readonly serial: string;
  readonly firmware: string;
  /** Day of the last calibration, yyyymmdd. */
  readonly calibratedOn: number;
  /** Hard limits the device enforces by itself. */
  readonly maxCurrentA: number;
  readonly maxVoltageV: number;
  /** Watchdog and period in force from now on. */
  readonly watchdogMs: number;
  readonly periodMs: number;
  readonly roles: readonly ServedRole[];
  readonly latched: boolean;
}

/** Readings of one report; a role is present when the port serves it. */
export type ReportedRoles = {
  readonly device: ReadingOf<'device'>;
  /** `rafts[0]` is raft 1; null where this port does not serve that raft. Empty when it serves none. */
  readonly rafts: readonly (ReadingOf<'raft'> | null)[];
} & { readonly [R in Exclude<Role, 'device' | 'raft'>]?: ReadingOf<R> };

export interface Report {
  readonly verb: 'report';
  readonly roles: ReportedRoles;
}

export interface AnswerFrame {
  readonly verb: 'answer';
  /** Sequence number of the order frame answered. */
  readonly re: number;
  readonly answer: Answer;
  /** Index (from 0) of the first order that failed; null when all were done. Later ones were not carried out. */
  readonly failed: number | null;
}

/** One part of a burst of pilot samples. */
export interface Wave {
  readonly verb: 'wave';
  /** Sequence number of the order frame that asked; 0 when the device sends it of its own accord at a trip. */
  readonly re: number;
  /** 1..parts */
  readonly part: number;
  readonly parts: number;
  readonly spacingNs: number;
  /** Resolution 1 µA. */
  readonly samplesA: readonly number[];
}

/** Something happened at the device, timed by the device's own clock. */
export interface Tag {
  readonly verb: 'tag';
  readonly clockMs: number;
  /** One of TAG_KINDS, or a token of a newer device. */
  readonly kind: string;
  readonly value: number;
}

/** Event tags of v1 and what their value says. */
export const TAG_KINDS = {
  latched: 'the trip latch was set; value: cause, see LATCH_CAUSE',
  cleared: 'the trip latch was cleared; value 0',
  watchdog: 'no feed frame within the watchdog time; value: ms since the last one',
  'authority-expired':
    'the authority ran out with a set-point above zero; value: set-point, counts of 0.01 A',
  'make-safe': 'the make-safe sequence began; value: cause, see LATCH_CAUSE',
  'safe-end': 'the make-safe sequence reached its end; value: its duration, ms',
  'converter-off': 'the converter was switched off by make-safe; value: current, counts of 0.01 A',
  'supply-tripped': 'the supply breaker was tripped by make-safe; value: current, counts of 0.01 A',
  'opened-p': 'contactor P was ordered open by make-safe; value: current, counts of 0.01 A',
  'opened-n': 'contactor N was ordered open by make-safe; value 0',
  'opened-train': 'train contactors were asked open by make-safe; value 0',
  'bleed-output': 'output bleeder: 1 switched on by make-safe, 0 switched off, side dead',
  'bleed-plug': 'plug bleeder: 1 switched on by make-safe, 0 switched off, side dead',
  'bleed-abort': 'a bleeder reached its time or energy limit; value: 1 output, 2 plug',
  mark: 'the mark input, wired to whatever makes a fault, went on (1) or off (0)',
  relay: 'a hard-wired relay opened the coil circuit; value: which, see HARD_WIRED',
  'parted-p': 'the auxiliary of contactor P opened; value 0',
  'parted-n': 'the auxiliary of contactor N opened; value 0',
  // What an adapter says of the instrument behind it (src/instruments/).
  'no-answer': 'adapter: the instrument gave no answer in time; value: ms waited',
  'bad-answer': 'adapter: an answer that is none, or that nobody asked for; value 0',
  'bad-crc': 'adapter: an answer with a wrong check; value 0',
  'scpi-error': 'adapter: the error queue of the instrument was not empty; value: number of the error',
  'modbus-exception': 'adapter: the instrument refused; value: exception code',
  overload: 'adapter: readings that are the mark of an overload, or of no number; value: how many',
  'not-off': 'adapter: the output was ordered off and still reads on; value: times ordered',
} as const;
export type TagKind = keyof typeof TAG_KINDS;

/** Why a device latched. */
export const LATCH_CAUSE = { ordered: 1, watchdog: 2, 'new-session': 3, restart: 4 } as const;
export type LatchCause = keyof typeof LATCH_CAUSE;

/** Relays in the coil circuit that act by themselves; a device that sees their contacts tags which one opened. */
export const HARD_WIRED = { 'stop-button': 1, pilot: 2, 'over-voltage': 3, 'over-temperature': 4 } as const;
export type HardWiredRelay = keyof typeof HARD_WIRED;

export type ToDevice = Hello | Feed | OrderFrame;
export type ToSupervisor = Welcome | Report | AnswerFrame | Wave | Tag;

/** A frame with its envelope. `wallMs` and the like are no part of it: time is the receiver's. */
export interface Frame<B extends ToDevice | ToSupervisor> {
  /** Eight lower-case hex digits. */
  readonly nonce: string;
  /** 1..4294967295 */
  readonly seq: number;
  readonly body: B;
}

/** Why a line was not taken. The first eight come from the text alone, the other two from FrameGate. */
export const REJECTS = [
  'too-long',
  'not-ascii',
  'bad-crc',
  'bad-grammar',
  'wrong-direction',
  'unknown-verb',
  'unknown-role',
  'out-of-range',
  'wrong-nonce',
  'repeated-or-old-sequence',
] as const;
export type Reject = (typeof REJECTS)[number];

export type Decoded<B extends ToDevice | ToSupervisor> =
  | { readonly ok: true; readonly frame: Frame<B> }
  | { readonly ok: false; readonly why: Reject };

// ---- role tags --------------------------------------------------------------------------------------

const TAG_OF_ROLE = new Map<ServedRole, string>();
const ROLE_OF_TAG = new Map<string, ServedRole>();
for (const role of ASSIGNABLE_ROLES) {
  if (role === 'raft') {
    for (let n = 1; n <= MAX_RAFTS; n++) TAG_OF_ROLE.set(`raft${n}` as RaftRole, `${ROLES.raft.tag}${n}`);
  } else TAG_OF_ROLE.set(role, ROLES[role].tag);
}
for (const [role, tag] of TAG_OF_ROLE) ROLE_OF_TAG.set(tag, role);

/** `converter` → `cv`, `raft2` → `r2`. */
export const tagOfRole = (role: ServedRole): string => TAG_OF_ROLE.get(role) as string;
export const roleOfTag = (tag: string): ServedRole | undefined => ROLE_OF_TAG.get(tag);

/** Number of the raft from 1, or 0 when the role is not a raft. */
export const raftNumber = (role: ServedRole): number => (role.startsWith('raft') ? Number(role.slice(4)) : 0);

/**
 * The roles of a port as the rig writes them, with `raft` spelled out as every raft of the train, in the
 * dictionary's order and without repetition. Unknown names are left out (the rig loader refuses them).
 */
export function servedRoles(rigRoles: readonly string[], raftCount: number): ServedRole[] {
  const served: ServedRole[] = [];
  for (const role of TAG_OF_ROLE.keys()) {
    const raft = raftNumber(role);
    if (rigRoles.includes(role) || (raft > 0 && raft <= raftCount && rigRoles.includes('raft')))
      served.push(role);
  }
  return served;
}
