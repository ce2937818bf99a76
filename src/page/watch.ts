/**
 * What a page is told of a stand: events as they come, points of the traces, and the state of the moment. It looks
 * and changes nothing; a session runs the same with nobody watching.
 *
 * It is called from inside the supervisor's step and on the clock of the stand, where whatever is thrown would be taken
 * for a failure of the supervisor and end the session. So nothing in here throws: what fails goes to the diagnostics.
 */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import type { Clock } from '../host/clock.js';
import { type Diagnostics, guarded, quiet } from '../host/diagnostics.js';
import { withUnit } from '../host/words.js';
import { EXIT_TEXT, type Outcome, orNull, type Refusal } from '../supervisor/outcome.js';
import { PHASE_TEXT } from '../supervisor/phase-text.js';
import type { Progress } from '../supervisor/session-types.js';
import type { Beginning, Stand } from '../supervisor/stand.js';
import type { PageEvent, Snapshot } from './api.js';
import { countsAsMade } from './chain.js';
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
  /** Proofs that were made in the session of now. */
  made = new Set<string>();
  ended: Snapshot['ended'] = null;
  readonly #originMs: number;
  #cancel: () => void = () => {};

  /** @param wall for the time on the wall, whatever clock the stand runs on */
  constructor(
    private readonly stand: Stand,
    private readonly wall: Pick<Clock, 'wallMs'>,
    private readonly diagnostics: Diagnostics = quiet,
  ) {
    this.#originMs = stand.clock.nowMs();
    stand.listen({
      begun: (what) => this.#guarded(() => this.#begun(what)),
      progress: (what) => this.#guarded(() => this.#progress(what)),
      ended: (outcome, exit) => this.#guarded(() => this.#end(outcome, exit)),
      failed: (error) =>
        this.#guarded(() =>
          this.tell('fault', `loopwarden itself has failed: ${error.message}. KEEP AWAY until proven dead.`),
        ),
    });
    this.#sampleLater();
  }

  #guarded(work: () => void): void {
    guarded(this.diagnostics, 'the page failed to note something; the session goes on', work);
  }

  /** On the charger's clock, 0 when the watching began. */
  get atMs(): number {
    return this.stand.clock.nowMs() - this.#originMs;
  }

  stop(): void {
    this.#cancel();
  }

  /** Never throws: an order is told before it is passed on, and must be passed on. */
  tell(kind: Kind, text: string, { code = null, firstOut = false, refusal = null }: More = {}): void {
    this.#guarded(() => {
      const sessionMs = this.stand.running === null ? null : this.stand.sessionMs;
      const wallMs = this.wall.wallMs();
      this.events.add({ atMs: this.atMs, sessionMs, wallMs, kind, text, code, firstOut, refusal });
    });
  }

  #begun({ order, by }: Beginning): void {
    this.made = new Set();
    if (order === 'start') this.ended = null;
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
    this.#guarded(() => this.#refused(refusal));
  }

  #refused(refusal: Omit<Refusal, 'atS' | 'code'> & { readonly code: Code | null }): void {
    const { code, part, asked, by, reading, limit, unit, setting, text, remedy } = refusal;
    const shown = { code, part, asked, by, reading, limit, unit, setting, text, remedy };
    // Of the session's own: what the page turns down of itself comes before nothing.
    const firstOut =
      code !== null &&
      asked === 'start' &&
      this.stand.session?.phase === 'parked' &&
      this.stand.running?.order === 'start';
    const what = code === null ? text : said({ ...shown, code });
    this.tell('refusal', `REFUSED ${asked} by ${by}: ${what}`, { code, firstOut, refusal: shown });
  }

  #end(outcome: Outcome, exit: number): void {
    const { endReason, durationS, journal } = outcome;
    const order = this.stand.running?.order ?? 'start';
    // An acknowledgement is no session: how the last one ended goes on being said.
    if (order === 'start')
      this.ended = {
        ...{ outcome: outcome.outcome, exit, endReason, durationS, journal },
        energyToBatteryKwh: orNull(outcome.energyToBatteryKwh),
        residualV: outcome.residualVoltageAtReleaseV,
      };
    const text =
      order === 'start'
        ? `${outcome.outcome}: ${EXIT_TEXT[exit]}; end reason ${endReason}`
        : `${order} ${this.stand.session?.carriedOut === true ? 'carried out' : 'not carried out'}`;
    this.tell('ended', text);
  }

  #noteProofs(): void {
    const { session } = this.stand;
    if (session === null) return;
    for (const proof of countsAsMade(session.phase, session.display.proofs)) this.made.add(proof);
  }

  #sampleLater(): void {
    this.#cancel = this.stand.clock.after(POINT_EVERY_MS, () => {
      this.#guarded(() => this.#sample());
      this.#sampleLater();
    });
  }

  #sample(): void {
    if (this.stand.running === null) return;
    this.#noteProofs();
    const { session, sessionMs, loaded } = this.stand;
    const bindingOf = (limit: string): number => this.traces.bindingOf(limit);
    const point = pointOf(session, sessionMs, this.atMs, loaded.rig, bindingOf);
    if (point !== null) this.traces.add(point);
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
