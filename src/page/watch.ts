/**
 * What a page is told of a stand: events as they come, points of the traces, and the state of the moment. It looks
 * and changes nothing; a session runs the same with nobody watching.
 */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import type { Clock } from '../host/clock.js';
import { withUnit } from '../host/words.js';
import { EXIT_TEXT, exitCodeOf, type Outcome, type Refusal } from '../supervisor/outcome.js';
import { PHASE_TEXT } from '../supervisor/phase-text.js';
import type { Progress } from '../supervisor/session-types.js';
import type { Beginning, Stand } from '../supervisor/stand.js';
import type { PageEvent, Snapshot } from './api.js';
import { EventBook } from './event-book.js';
import { Pilot } from './pilot.js';
import { pointOf } from './point.js';
import { POINT_EVERY_MS, Traces } from './traces.js';

type Kind = PageEvent['kind'];
interface More {
  readonly code?: Code | null;
  readonly firstOut?: boolean;
  readonly refusal?: PageEvent['refusal'];
}

export class Watch {
  readonly events = new EventBook();
  readonly traces = new Traces();
  readonly pilot = new Pilot();
  /** Proofs that stood at some time in the session of now. */
  made = new Set<string>();
  ended: Snapshot['ended'] = null;
  readonly #originMs: number;
  #cancel: () => void = () => {};

  /** @param wall for the time on the wall, whatever clock the stand runs on */
  constructor(
    private readonly stand: Stand,
    private readonly wall: Pick<Clock, 'wallMs'>,
  ) {
    this.#originMs = stand.clock.nowMs();
    stand.listen({
      begun: (what) => this.#begun(what),
      progress: (what) => this.#progress(what),
      ended: (outcome) => this.#end(outcome),
      failed: (error) =>
        this.tell('fault', `loopwarden itself has failed: ${error.message}. KEEP AWAY until proven dead.`),
    });
    this.#sampleLater();
  }

  /** On the charger's clock, 0 when the watching began. */
  get atMs(): number {
    return this.stand.clock.nowMs() - this.#originMs;
  }

  stop(): void {
    this.#cancel();
  }

  tell(kind: Kind, text: string, { code = null, firstOut = false, refusal = null }: More = {}): void {
    const sessionMs = this.stand.running === null ? null : this.stand.sessionMs;
    const wallMs = this.wall.wallMs();
    this.events.add({ atMs: this.atMs, sessionMs, wallMs, kind, text, code, firstOut, refusal });
  }

  #begun({ order, by }: Beginning): void {
    this.made = new Set();
    this.ended = null;
    this.tell('session', `${order} asked by ${by}`);
  }

  #progress(what: Progress): void {
    if (what.kind === 'wave') {
      this.pilot.take(what.wave, this.atMs);
      return;
    }
    this.#noteProofs();
    if (what.kind === 'phase') this.tell('phase', `${what.phase}: ${PHASE_TEXT[what.phase]}`);
    else if (what.kind === 'limit')
      this.tell('limit', `${what.limit.limit} binds, ${withUnit(what.limit.currentA, 'A')}`);
    else if (what.kind === 'finding') {
      const { code, part, reading, limit, unit, setting } = what.finding;
      this.tell('finding', said({ code, part: part ?? null, reading, limit, unit, setting }), { code });
    } else if (what.kind === 'trip')
      this.tell('trip', `TRIP in ${what.trip.phase}: ${said(what.trip)}`, {
        code: what.trip.code,
        firstOut: true,
      });
    else this.refused(what.refusal);
  }

  refused(refusal: Omit<Refusal, 'atS' | 'code'> & { readonly code: Code | null }): void {
    const { code, part, asked, by, reading, limit, unit, setting, text, remedy } = refusal;
    const shown = { code, part, asked, by, reading, limit, unit, setting, text, remedy };
    const firstOut = this.stand.session?.phase === 'parked' && this.stand.running?.order === 'start';
    const what = code === null ? text : said({ ...shown, code });
    this.tell('refusal', `REFUSED ${asked} by ${by}: ${what}`, { code, firstOut, refusal: shown });
  }

  #end(outcome: Outcome): void {
    const exit = exitCodeOf(outcome);
    const { endReason, energyToBatteryKwh, durationS, journal } = outcome;
    this.ended = {
      ...{ outcome: outcome.outcome, exit, endReason, energyToBatteryKwh, durationS, journal },
      residualV: outcome.residualVoltageAtReleaseV,
    };
    const order = this.stand.running?.order ?? 'start';
    const text =
      order === 'start'
        ? `${outcome.outcome}: ${EXIT_TEXT[exit]}; end reason ${endReason}`
        : `${order} ${this.stand.session?.carriedOut === true ? 'carried out' : 'not carried out'}`;
    this.tell('ended', text);
  }

  #noteProofs(): void {
    for (const proof of this.stand.session?.display.proofs ?? []) this.made.add(proof);
  }

  #sampleLater(): void {
    this.#cancel = this.stand.clock.after(POINT_EVERY_MS, () => {
      if (this.stand.running !== null) {
        this.#noteProofs();
        const point = pointOf(this.stand.session, this.atMs, (limit) => this.traces.bindingOf(limit));
        if (point !== null) this.traces.add(point);
      }
      this.#sampleLater();
    });
  }
}

interface Said {
  readonly code: Code;
  readonly part: string | null;
  readonly reading: number | null;
  readonly limit: number | null;
  readonly unit: string;
  readonly setting: string;
}

/** In one sentence: what, which, read and held against what. */
function said({ code, part, reading, limit, unit, setting }: Said): string {
  const which = part === null ? '' : ` (${part})`;
  const figures =
    reading === null || !Number.isFinite(reading)
      ? ''
      : `; read ${withUnit(reading, unit)}, limit ${withUnit(limit, unit)}${setting === '' ? '' : ` [${setting}]`}`;
  return `${code}${which}: ${CATALOGUE[code].text}${figures}`;
}
