/** What one journal adds to the picture of a fleet: audited, boiled down to figures that can be kept by the thousand. */

import { Audit, type AuditResult } from '../audit/audit.js';
import type { Entry } from '../audit/entry.js';
import { Picture } from '../audit/picture.js';
import { brokenOnRecord, lacksEnd } from '../audit/verdict.js';
import { pieces } from '../host/big-file.js';
import { SOFTWARE } from '../host/version.js';
import type { RecoveryRow } from '../journal/recovery.js';
import type { Rig } from '../rig/schema.js';
import { FigureReader, type SessionFigures } from './figures.js';
import { limitsMet, type NearLimit } from './limits-met.js';

/** Limits the drifting figures are held against; null where the rig has no such thing. */
export interface FigureLimits {
  readonly loopSeriesOhm: number | null;
  readonly loopLeakageUs: number | null;
  readonly isolationOhm: number;
}

export interface Session {
  readonly rig: string;
  readonly rigHash: string;
  /** Last seal: a copy has the same. */
  readonly head: string;
  readonly wallMs: number;
  readonly rehearsal: boolean;
  /** null: the session has no end in its record. */
  readonly outcome: string | null;
  readonly trip: string | null;
  readonly refusals: readonly string[];
  /** As the session told it; 0 without an end. */
  readonly toldKwh: number;
  /** As integrated anew from the received lines. */
  readonly toBatteryKwh: number;
  readonly fromSupplyKwh: number;
  readonly figures: SessionFigures;
  readonly limits: FigureLimits;
  /** Extremes against the limits of the rig, or with a replay the margins of the checks. */
  readonly near: readonly NearLimit[];
}

export interface JournalRead {
  readonly file: string;
  readonly row: RecoveryRow | 'unreadable';
  readonly intact: boolean;
  /** Decisions were held against this program and are not the same, or an invariant is broken. */
  readonly diverges: boolean;
  /** A session was started, and how it ended is not on the record. */
  readonly unfinished: boolean;
  /** Its decisions were held against this program. */
  readonly replayed: boolean;
  /** What is wrong, in words; '' when nothing is. */
  readonly trouble: string;
  /** null: nothing in it can be relied on. */
  readonly session: Session | null;
}

export const unreadable = (file: string, trouble: string): JournalRead => ({
  file,
  row: 'unreadable',
  intact: false,
  diverges: false,
  unfinished: false,
  replayed: false,
  trouble,
  session: null,
});

/** Follows the records of one journal while it is audited. */
export class SessionWatch {
  readonly figures = new FigureReader();
  picture: Picture | null = null;

  take(entry: Entry): void {
    if (entry.k === 'rig' && this.picture === null) this.picture = new Picture(entry.b.rig as Rig);
    const { picture } = this;
    if (picture === null) return;
    picture.reach(entry.tMs);
    this.figures.take(entry, picture);
    picture.take(entry);
  }
}

/** Never throws: whatever is wrong with a file is what is told of it. */
export function readJournal(file: string, replay: boolean): JournalRead {
  try {
    const watch = new SessionWatch();
    const audit = new Audit({ software: SOFTWARE, replay, look: (entry) => watch.take(entry) });
    for (const piece of pieces(file)) audit.feed(piece);
    return boiledDown(file, audit.end(), watch, replay);
  } catch (error) {
    return unreadable(file, error instanceof Error ? error.message : String(error));
  }
}

function boiledDown(file: string, a: AuditResult, watch: SessionWatch, replay: boolean): JournalRead {
  const broken = brokenOnRecord(a);
  const words = [
    ...a.damage.slice(0, 1),
    ...(a.diverged === true ? [`decisions diverge at record ${a.divergence?.n}`] : []),
    ...(replay && a.notReplayed !== null ? [`could not be decided anew: ${a.notReplayed}`] : []),
    ...(broken.length > 0 ? [`${broken.join(', ')} broken`] : []),
    ...(lacksEnd(a) ? ['how its session ended is not on the record'] : []),
  ];
  const { header } = a;
  const rig = watch.picture?.rig;
  // A file without one line end may be the beginning of a header, or anything at all: nothing speaks for it.
  const intact = a.intact && header !== null;
  return {
    file,
    row: a.row,
    intact,
    diverges: a.diverged === true || broken.length > 0,
    unfinished: intact && lacksEnd(a),
    replayed: a.diverged !== null,
    trouble: words.join('; '),
    session: intact && rig !== undefined ? sessionOf(a, watch, rig, replay) : null,
  };
}

const text = (value: unknown): string => (typeof value === 'string' ? value : '?');
const number = (value: unknown): number => (typeof value === 'number' && Number.isFinite(value) ? value : 0);

function sessionOf(a: AuditResult, { figures }: SessionWatch, rig: Rig, replay: boolean): Session {
  const { header, outcome, energy } = a;
  return {
    rig: text(header?.rig),
    rigHash: text(header?.rigHash),
    head: a.head,
    wallMs: number(header?.wallMs),
    rehearsal: header?.clock !== 'real',
    outcome: outcome === null ? null : a.carriedOut === null ? text(outcome.outcome) : CARRIED_OUT,
    trip: a.trip === null ? null : text(a.trip.code),
    refusals: a.refusals.map(({ code }) => text(code)),
    toldKwh: number(energy?.toldKwh),
    toBatteryKwh: number(energy?.toBatteryKwh),
    fromSupplyKwh: number(energy?.fromSupplyKwh),
    figures: figures.result,
    limits: limitsOf(rig),
    near: replay ? marginsOf(a) : limitsMet(a.extremes, rig),
  };
}

/** Of an order that starts no session: nothing was refused. */
export const CARRIED_OUT = 'carried out';
const US_PER_S = 1e6;
const limitsOf = ({ pilot, isolation }: Rig): FigureLimits => ({
  loopSeriesOhm: pilot?.maxSeriesOhm ?? null,
  // Above this nothing is called genuine any more; the trip comes later.
  loopLeakageUs: pilot === undefined ? null : US_PER_S / pilot.genuineShuntOhm,
  isolationOhm: isolation.minOhmPerVolt * isolation.workingVoltageV,
});

const marginsOf = ({ margins }: AuditResult): NearLimit[] =>
  margins.map(({ code, part, unit, setting, reading, limit, left }) => ({
    what: part === null ? code : `${code} (${part})`,
    unit,
    setting,
    reading,
    limit,
    left,
  }));
