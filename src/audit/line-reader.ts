/**
 * Reads a received line for the audit, by src/link/PROTOCOL.md and the dictionary alone. Not the codec: a fault in
 * that must not hide itself here. The check is computed from its definition (CRC-32C, Castagnoli 1993: reflected
 * polynomial 82F63B78, start and end inverted).
 */
import { MAX_RAFTS, ROLE_NAMES, ROLES, type Role } from '../rig/roles.js';

export type Values = Readonly<Record<string, number>>;

export interface ReadLine {
  /** `<` from the device. */
  readonly direction: string;
  readonly nonce: string;
  readonly seq: number;
  readonly verb: string;
  readonly crcFits: boolean;
  /** Of a report: values by role; rafts are `raft1`, `raft2`, … */
  readonly roles: ReadonlyMap<string, Values>;
  /** Of an answer: the sequence number it answers; NaN otherwise. */
  readonly answers: number;
}

const POLYNOMIAL = 0x82f63b78;
const TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let rest = byte;
  for (let bit = 0; bit < 8; bit++) rest = rest & 1 ? (rest >>> 1) ^ POLYNOMIAL : rest >>> 1;
  return rest >>> 0;
});

export function checkOf(text: string): string {
  let rest = 0xffffffff;
  for (let i = 0; i < text.length; i++) rest = TABLE[(rest ^ text.charCodeAt(i)) & 255]! ^ (rest >>> 8);
  return ((rest ^ 0xffffffff) >>> 0).toString(16).padStart(8, '0');
}

const ROLE_OF_TAG = new Map<string, { readonly name: string; readonly role: Role }>();
for (const role of ROLE_NAMES) {
  if (role !== 'raft') ROLE_OF_TAG.set(ROLES[role].tag, { name: role, role });
  else
    for (let n = 1; n <= MAX_RAFTS; n++) ROLE_OF_TAG.set(`${ROLES.raft.tag}${n}`, { name: `raft${n}`, role });
}

/** An empty value cannot be read. */
const numberOf = (text: string | undefined): number =>
  text === undefined || text === '' ? Number.NaN : Number(text);

function valuesOf(role: Role, text: string): Values {
  const counts = text.split(',');
  const values: Record<string, number> = {};
  for (const [i, field] of ROLES[role].fields.entries())
    values[field.name] = numberOf(counts[i]) * field.scale;
  return values;
}

export function readLine(line: string): ReadLine {
  const star = line.lastIndexOf('*');
  const head = line.slice(0, star);
  const [mark = '', seq = '', verb = '', ...sections] = head.split(' ');
  const roles = new Map<string, Values>();
  let answers = Number.NaN;
  for (const section of sections) {
    const colon = section.indexOf(':');
    const tag = section.slice(0, colon);
    const rest = section.slice(colon + 1);
    if (verb === 'report') {
      const known = ROLE_OF_TAG.get(tag);
      if (known !== undefined) roles.set(known.name, valuesOf(known.role, rest));
    } else if (verb === 'answer' && tag === 're') answers = numberOf(rest.split(',')[0]);
  }
  return {
    direction: mark.slice(0, 1),
    nonce: mark.slice(1),
    seq: Number(seq),
    verb,
    crcFits: star > 0 && line.slice(star + 1).toLowerCase() === checkOf(head),
    roles,
    answers,
  };
}
