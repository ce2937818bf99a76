/**
 * Sections of a report: one per role served, values positional in the dictionary's order. This is the hot
 * path (every port, every period), so the dictionary is compiled once into flat tables.
 */
import { MAX_RAFTS, type ReadingOf, ROLE_NAMES, ROLES, type Role } from '../rig/roles.js';
import type { Report, ReportedRoles } from './frames.js';
import type { LineWriter } from './line-writer.js';
import { SHAPES, type Shape, type Values } from './reading-shapes.js';
import { countsPerUnit, nearestCount, type Scan } from './scan.js';

interface Section {
  readonly role: Role;
  /** From 1; 0 when the role is not a raft. */
  readonly raft: number;
  readonly tag: string;
  /** What it begins with in a report. */
  readonly opening: string;
  /** Place in a report; sections stand in rising order, so none can come twice. */
  readonly place: number;
  readonly shape: Shape<Role>;
  readonly scales: readonly number[];
  /** Counts per unit where that is an integer, else 0 and the scale multiplies. */
  readonly perUnit: readonly number[];
}

const SECTIONS: Section[] = [];
for (const role of ROLE_NAMES) {
  const { tag, fields } = ROLES[role];
  const scales = fields.map((f) => f.scale);
  const perUnit = scales.map(countsPerUnit);
  const shape = SHAPES[role] as unknown as Shape<Role>;
  const rafts = role === 'raft' ? Array.from({ length: MAX_RAFTS }, (_, i) => i + 1) : [0];
  for (const raft of rafts) {
    const place = SECTIONS.length;
    const own = raft > 0 ? `${tag}${raft}` : tag;
    SECTIONS.push({ role, raft, tag: own, opening: ` ${own}:`, place, shape, scales, perUnit });
  }
}
const DEVICE_SECTION = SECTIONS.find((s) => s.role === 'device') as Section;

// Every tag of a report is two characters, so one number finds its section.
const BY_TAG = new Map<number, Section>();
for (const section of SECTIONS) BY_TAG.set(tagNumber(section.tag, 0), section);

function tagNumber(text: string, at: number): number {
  return text.charCodeAt(at) * 256 + text.charCodeAt(at + 1);
}

const SPACE = 32;
const COLON = 58;

export function decodeReport(scan: Scan): Report {
  const rafts: (ReadingOf<'raft'> | null)[] = [];
  const roles: Record<string, unknown> = { rafts };
  let last = -1;
  // Bounded: each turn takes a section of a higher place, or fails.
  while (!scan.done && scan.why === null) {
    if (scan.peek() !== SPACE || scan.at + 4 > scan.end || scan.text.charCodeAt(scan.at + 3) !== COLON) {
      scan.fail('bad-grammar');
      break;
    }
    const section = BY_TAG.get(tagNumber(scan.text, scan.at + 1));
    if (section === undefined) {
      scan.fail('unknown-role');
      break;
    }
    scan.at += 4;
    if (section.place <= last || (last === -1 && section !== DEVICE_SECTION)) scan.fail('bad-grammar');
    last = section.place;
    const reading = decodeReading(scan, section);
    if (section.raft === 0) roles[section.role] = reading;
    else {
      while (rafts.length < section.raft - 1) rafts.push(null);
      rafts.push(reading as ReadingOf<'raft'>);
    }
  }
  if (last === -1) scan.fail('bad-grammar');
  return { verb: 'report', roles: roles as unknown as ReportedRoles };
}

/** The values of one section, one after the other; fails the scan at the first that is not there. */
class SectionValues implements Values {
  private at = 0;

  constructor(
    private readonly scan: Scan,
    private readonly section: Section,
  ) {}

  next(): number {
    const { scan, section } = this;
    const i = this.at++;
    if (i > 0 && !scan.comma()) scan.fail('bad-grammar');
    if (scan.why !== null) return Number.NaN;
    const count = scan.count();
    const per = section.perUnit[i]!;
    return per > 0 ? count / per : count * section.scales[i]!;
  }
}

const decodeReading = (scan: Scan, section: Section): ReadingOf<Role> =>
  section.shape.build(new SectionValues(scan, section));

export function encodeReport(out: LineWriter, roles: ReportedRoles): void {
  for (const section of SECTIONS) {
    const reading = section.raft > 0 ? roles.rafts[section.raft - 1] : roles[section.role as 'device'];
    if (reading) encodeReading(out, section, reading as ReadingOf<Role>);
  }
}

function encodeReading(out: LineWriter, section: Section, reading: ReadingOf<Role>): void {
  const { scales, perUnit } = section;
  const values = section.shape.values(reading);
  out.text(section.opening);
  for (let i = 0; i < values.length; i++) {
    if (i > 0) out.comma();
    out.count(nearestCount(values[i]!, perUnit[i]!, scales[i]!));
  }
}
