/**
 * How long the frames of a port can get, in bytes on the wire, from the dictionary alone. Wide, but sensible:
 * values a sound device can report, not every value the grammar allows. Layout as in the line protocol:
 * direction, nonce (8), space, sequence (10), space, verb, sections, `*`, check (8), line feed.
 */
import { ORDERS, type OrderDefinition } from './orders.js';
import { type AssignableRole, PHASES, ROLES, type Role } from './roles.js';

const ENVELOPE = 1 + 8 + 1 + 10 + 1 + 1 + 8 + 1;
const SEQUENCE_DIGITS = 10;
/** 8N1: one start bit, eight data bits, one stop bit. */
const BITS_PER_BYTE = 10;

/** Greatest magnitude a sound device reports, by unit and worth of one count. */
const GREATEST: Readonly<Record<string, number>> = {
  'V 0.1': 2000,
  'V 0.01': 2000,
  'V 0.001': 5,
  'A 0.01': 5000,
  'A 0.1': 5000,
  'A 0.000001': 0.1,
  'degC 0.1': 300,
  'ohm 0.001': 1000,
  'ohm 1000': 1e8,
  'Hz 0.01': 100,
  'W 10': 1e7,
  'ms 1': 4294967295,
  ' 0.0001': 1,
};
const SIGNED_UNITS = new Set(['V', 'A', 'degC']);
const COUNTERS = new Set(['sample', 'rejectedFrames']);
const COUNTER_DIGITS = 5;
const FLAG_DIGITS = 1;

/** Characters of one value. An entry of the dictionary not provided for is counted as the longest integer. */
function valueLength(field: {
  readonly name: string;
  readonly unit: string;
  readonly scale: number;
}): number {
  if (field.unit === '' && field.scale === 1) return COUNTERS.has(field.name) ? COUNTER_DIGITS : FLAG_DIGITS;
  const scaleText = field.scale === 1e-6 ? '0.000001' : String(field.scale);
  const greatest = GREATEST[`${field.unit} ${scaleText}`];
  if (greatest === undefined) return SEQUENCE_DIGITS + 1;
  return String(Math.round(greatest / field.scale)).length + (SIGNED_UNITS.has(field.unit) ? 1 : 0);
}

/** ` tag:v,v,…` */
function sectionLength(role: Role, tagLength: number): number {
  const { fields } = ROLES[role];
  return 1 + tagLength + 1 + fields.reduce((sum, f) => sum + valueLength(f), 0) + fields.length - 1;
}

/** Rafts a port serves: `raft` means all of them. */
export function raftsServed(roles: readonly string[], rafts: number): number {
  return roles.includes('raft') ? rafts : roles.filter((r) => /^raft\d$/.test(r)).length;
}

export function reportBytes(roles: readonly string[], rafts: number): number {
  const named = roles.filter((r): r is Exclude<AssignableRole, 'raft'> => r in ROLES && r !== 'raft');
  const sections = named.reduce((sum, role) => sum + sectionLength(role, ROLES[role].tag.length), 0);
  const raftSections = raftsServed(roles, rafts) * sectionLength('raft', ROLES.raft.tag.length + 1);
  return (
    ENVELOPE + 'report'.length + sectionLength('device', ROLES.device.tag.length) + sections + raftSections
  );
}

/** An answer that all went well, or the worst refusal: ` re:seq,answer,index`. */
export const answerBytes = (): number => ENVELOPE + 'answer re:'.length + SEQUENCE_DIGITS + ',9,9'.length;

export const feedBytes = (): number => ENVELOPE + 'feed ph:'.length + String(PHASES.length - 1).length;

/** Arguments are sent as counts; no current, voltage or lifetime needs more digits. */
const ARGUMENT_DIGITS = 6;

export function orderBytes(order: OrderDefinition): number {
  const args = order.args.length * (1 + ARGUMENT_DIGITS);
  return ENVELOPE + 'order '.length + ROLES[order.role].tag.length + 1 + order.action.length + args;
}

/** The longest order any of the roles can be given; every port can be told to make safe. */
export function longestOrderBytes(roles: readonly string[]): number {
  const given = Object.values(ORDERS).filter(
    ({ role }) => role === 'device' || roles.includes(role) || (role === 'raft' && raftsServed(roles, 1) > 0),
  );
  return Math.max(...given.map(orderBytes));
}

export const makeSafeBytes = (): number => orderBytes(ORDERS['make-safe']);

/** Time on the wire, ms. */
export const transitMs = (bytes: number, baud: number): number => (bytes * BITS_PER_BYTE * 1000) / baud;
