/** What a session has to tell: its trip, findings, refusals and phases, each told once to journal and people. */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import type { Finding } from '../checks/check.js';
import type { JournalWriter } from '../journal/writer.js';
import type { Phase } from '../rig/roles.js';
import { type Found, orNull, type Refusal, refusalOf, type TripRecord } from './outcome.js';
import type { PersonOrder, SessionOutputs } from './session-types.js';

/** Bounds what a session that flickers for a day can collect. */
const MAX_TOLD = 1000;

export class SessionLog {
  trip: TripRecord | null = null;
  tripMs: number | null = null;
  readonly refusals: Refusal[] = [];
  readonly phases: { name: Phase; atS: number }[] = [];
  readonly found: { code: Code; part: string | null; atS: number }[] = [];
  startedMs: number | null = null;

  constructor(
    private readonly out: SessionOutputs,
    private readonly journal: JournalWriter,
  ) {}

  /** Session time in seconds, to the millisecond; 0 while parked. */
  atS(nowMs: number): number {
    return this.startedMs === null ? 0 : Math.round(nowMs - this.startedMs) / 1000;
  }

  entered(phase: Phase, nowMs: number): void {
    if (this.phases.length < MAX_TOLD) this.phases.push({ name: phase, atS: this.atS(nowMs) });
    this.out.progress({ kind: 'phase', atS: this.atS(nowMs), phase });
  }

  /** The first finding that latches is the trip; what follows is told as a finding. */
  noteTrip(f: Finding, nowMs: number, phase: Phase): void {
    if (this.trip !== null) return;
    this.tripMs = nowMs;
    this.trip = {
      code: f.code,
      part: f.part ?? null,
      effect: CATALOGUE[f.code].effect,
      phase,
      atS: this.atS(nowMs),
      reading: orNull(f.reading),
      limit: orNull(f.limit),
      unit: f.unit,
      setting: f.setting,
      detectedAfterMs: Math.max(0, nowMs - f.sinceMs),
      fromInjectionMs: null,
    };
    this.journal.record(nowMs, 'trip', this.trip);
    this.out.latch(this.trip);
    this.out.progress({ kind: 'trip', atS: this.atS(nowMs), trip: this.trip });
  }

  begun(f: Finding, nowMs: number): void {
    const body = told(f);
    this.journal.record(nowMs, 'finding', { ...body, failing: true });
    if (this.found.length < MAX_TOLD)
      this.found.push({ code: f.code, part: body.part, atS: this.atS(nowMs) });
    if (this.startedMs !== null) this.out.progress({ kind: 'finding', atS: this.atS(nowMs), finding: f });
  }

  over(f: Finding, nowMs: number): void {
    this.journal.record(nowMs, 'finding', { ...told(f), failing: false });
  }

  refuse(found: Found, order: PersonOrder, nowMs: number): void {
    const refusal = refusalOf(found, order.order, order.by, this.atS(nowMs));
    if (this.refusals.length < MAX_TOLD) this.refusals.push(refusal);
    this.journal.record(nowMs, 'refusal', refusal);
    this.out.progress({ kind: 'refusal', atS: this.atS(nowMs), refusal });
  }
}

function told(f: Finding) {
  const { code, reading, limit, unit, setting } = f;
  return { code, part: f.part ?? null, reading, limit, unit, setting };
}

/** A finding of the supervisor's own, about the conduct of the session rather than a reading. */
export function ownFinding(code: Code, nowMs: number, more: Partial<Finding> = {}): Finding {
  const unread = Number.NaN;
  return {
    code,
    failing: true,
    reading: unread,
    limit: unread,
    unit: '',
    setting: '',
    sinceMs: nowMs,
    ...more,
  };
}
