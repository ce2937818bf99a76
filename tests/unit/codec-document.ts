/** The parts of PROTOCOL.md that follow from the dictionary, as text. */
import { encodeToDevice, encodeToSupervisor } from '../../src/link/codec.js';
import { crc32c, crcText } from '../../src/link/crc32c.js';
import { LATCH_CAUSE, REJECTS, TAG_KINDS } from '../../src/link/frames.js';
import { MAKE_SAFE } from '../../src/rig/make-safe.js';
import { ANSWERS, ORDER_NAMES, ORDERS, type OrderDefinition } from '../../src/rig/orders.js';
import { PHASES, ROLE_NAMES, ROLES } from '../../src/rig/roles.js';
import { TO_DEVICE, TO_SUPERVISOR, TURNED_AWAY } from './codec-vectors.js';

const table = (head: readonly string[], rows: readonly (readonly (string | number)[])[]): string =>
  [head, head.map(() => '---'), ...rows].map((cells) => `| ${cells.join(' | ')} |`).join('\n');
const unit = (u: string): string => (u === '' ? '–' : u);

function roles(): string {
  return ROLE_NAMES.map((role) => {
    const { tag, text, fields } = ROLES[role];
    const rows = fields.map((f, i) => [i + 1, `\`${f.name}\``, unit(f.unit), f.scale, f.text]);
    const heading = `#### \`${role === 'raft' ? 'r1' : tag}\` ${role}`;
    return `${heading}\n\n${text}.\n\n${table(['#', 'field', 'unit', 'one count', 'meaning'], rows)}`;
  }).join('\n\n');
}

function orders(): string {
  const rows = ORDER_NAMES.map((name) => {
    const order: OrderDefinition = ORDERS[name];
    const args = order.args.map((a) => `\`${a.name}\` (${unit(a.unit)}, ${a.scale})`).join(', ');
    const wire = `\`${ROLES[order.role].tag}:${order.action}\``;
    return [wire, args === '' ? '–' : args, order.permission === 'free' ? 'no' : 'yes', order.text];
  });
  return table(['section', 'arguments (unit, one count)', 'energises', 'meaning'], rows);
}

const numbered = (entries: Record<string, number>): string =>
  table(
    ['code', 'name'],
    Object.entries(entries).map(([name, code]) => [code, `\`${name}\``]),
  );

function makeSafe(): string {
  const m = MAKE_SAFE;
  const n = m.openNAfterPMs;
  const train = n + m.openTrainAfterNMs;
  return table(
    ['when', 'what', 'role'],
    [
      ['at once', 'converter off, authority withdrawn', 'converter'],
      ['at once', 'bleeders that are on: off', 'bleeder'],
      [
        'at once',
        'isolation device to the joined point (3), known resistor on the positive pole (1)',
        'isolation',
      ],
      [
        `P: current below the routine break limit, at the latest ${m.openPLatestMs} ms`,
        'contactor P and the pre-charge contactor open',
        'contactor',
      ],
      [`P + ${m.bleedOutputAfterPMs} ms`, 'output bleeder on', 'bleeder'],
      [`P + ${n} ms`, 'contactor N open', 'contactor'],
      [`P + ${train} ms`, 'train contactors asked open', 'train'],
      [`P + ${train + m.bleedPlugAfterTrainMs} ms`, 'plug bleeder on', 'bleeder'],
      [
        `side below ${m.bleederOffV} V for ${m.bleederOffAfterMs} ms, or its time or energy limit`,
        'that bleeder off',
        'bleeder',
      ],
    ],
  );
}

function turnedAway(): string {
  const lines = TURNED_AWAY.map(
    ({ why, head, crc }) => `${why.padEnd(16)} ${head}*${crc ?? crcText(crc32c(head))}`,
  );
  return ['```', ...lines, '```'].join('\n');
}

const block = (lines: readonly string[]): string => ['```', ...lines, '```'].join('\n');

/** By the name of the marker in the document. */
export const GENERATED: Readonly<Record<string, () => string>> = {
  roles,
  orders,
  answers: () => numbered(ANSWERS),
  causes: () => numbered(LATCH_CAUSE),
  tags: () =>
    table(
      ['kind', 'meaning'],
      Object.entries(TAG_KINDS).map(([kind, text]) => [`\`${kind}\``, text]),
    ),
  phases: () => PHASES.map((phase, i) => `${i} \`${phase}\``).join(' · '),
  rejects: () => REJECTS.map((why) => `\`${why}\``).join(' · '),
  'make-safe': makeSafe,
  'vectors-to-device': () => block(TO_DEVICE.map((v) => encodeToDevice(v.nonce, v.seq, v.body))),
  'vectors-to-supervisor': () => block(TO_SUPERVISOR.map((v) => encodeToSupervisor(v.nonce, v.seq, v.body))),
  'vectors-turned-away': turnedAway,
};

const opening = (name: string): string => `<!-- from the dictionary: ${name} -->`;
const CLOSING = '<!-- end -->';

/** What stands between the markers of that name now; null when they are missing. */
export function written(document: string, name: string): string | null {
  const from = document.indexOf(opening(name));
  const to = document.indexOf(CLOSING, from);
  return from < 0 || to < 0 ? null : document.slice(from + opening(name).length, to).trim();
}

/** The document with every marked part as it must be. */
export function renewed(document: string): string {
  let text = document;
  for (const [name, make] of Object.entries(GENERATED)) {
    const from = text.indexOf(opening(name));
    const to = text.indexOf(CLOSING, from);
    if (from < 0 || to < 0) continue;
    text = `${text.slice(0, from + opening(name).length)}\n${make()}\n${text.slice(to)}`;
  }
  return text;
}
