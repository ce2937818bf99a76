/**
 * Decides everything anew: gives the inputs of a journal, at their times, to the same session, checks and machine
 * that run live, and holds what comes out against what was written, line by line. The first difference is told with
 * both sides; after it nothing can be compared any more.
 *
 * Inputs are what came from the world: received lines, ticks, timers, people, ports, confirmations of the store,
 * a failure of the program. Everything else in a journal is output, and must come out again.
 */
import type { TimerId } from '../../machines/vocabulary.js';
import { type CheckResult, type Observation, type Wish, wishOf } from '../checks/check.js';
import { CHECKS } from '../checks/index.js';
import type { JournalHeader, JournalRecord, RecordKind, SealBody } from '../journal/format.js';
import { JournalWriter } from '../journal/writer.js';
import type { Rig } from '../rig/schema.js';
import type { Observing } from '../supervisor/observing.js';
import { Session } from '../supervisor/session.js';
import type { PersonOrder, SessionOutputs, SessionSetup } from '../supervisor/session-types.js';

export interface Divergence {
  /** Record of the journal; −1 when it has ended and the replay has more to say. */
  readonly n: number;
  readonly atMs: number;
  readonly kind: RecordKind | null;
  /** The line as written; null when the journal has none. */
  readonly written: string | null;
  /** The line as decided anew; null when nothing is decided there. */
  readonly decided: string | null;
}

/** Sees what each check says in each step, before the step has decided anything. */
export type Looker = (
  check: SessionSetup['checks'][number],
  said: CheckResult<unknown>,
  seen: Observation,
) => void;

/** The same checks, looked at. */
const lookedAt = (checks: SessionSetup['checks'], look: Looker): SessionSetup['checks'] =>
  checks.map((check) => ({
    ...check,
    run: (state, seen, rig) => {
      const said = check.run(state, seen, rig);
      look(check, said, seen);
      return said;
    },
  }));

interface Line {
  readonly record: JournalRecord;
  readonly raw: string;
}

/** Where the effects of an input stand: behind its record, or before it. */
const INPUTS: ReadonlySet<RecordKind> = new Set([
  'frame',
  'tick',
  'elapsed',
  'person',
  'port',
  'sync',
  'fault',
]);
/** Written by the run loop around the session. */
const BESIDE: ReadonlySet<RecordKind> = new Set(['header', 'rig', 'setup', 'clock']);
/** So many inputs are read ahead: the effects of the next may stand before its record. */
const AHEAD = 2;
const MOST_AHEAD = 20_000;
/** A timer of the platform may fire this much before its time. */
const EARLY_MS = 2;

export class Replay {
  divergence: Divergence | null = null;
  /** Inputs given. */
  inputs = 0;
  /** Lines of the journal that came out again. */
  matched = 0;
  #queue: Line[] = [];
  #head = 0;
  #waiting: Line[] = [];
  #header: JournalHeader | null = null;
  #rig: Rig | null = null;
  #session: Session | null = null;
  #writer: JournalWriter | null = null;
  #synced: ((error: Error | null) => void) | null = null;
  #nowMs = 0;
  #opened = false;
  /** When each running timer ends. */
  readonly #due = new Map<TimerId, number>();
  /** The journal ends in the middle: what it cannot hold any more is no difference. */
  #cut = false;
  /** The next input is a failure of the program: this one may have been left half done, and nothing is known after it. */
  #failing = false;
  #stopped = false;

  readonly #checks: SessionSetup['checks'];

  constructor(look: Looker | null = null) {
    this.#checks = look === null ? CHECKS : lookedAt(CHECKS, look);
  }

  take(record: JournalRecord, raw: string): void {
    if (this.divergence !== null) return;
    const line = { record, raw };
    this.#queue.push(line);
    // No step of a session writes so much: without an input nothing here would ever be decided.
    if (this.#queue.length - this.#head > MOST_AHEAD) this.#differ(this.#next(), null);
    if (INPUTS.has(record.k) || BESIDE.has(record.k)) this.#waiting.push(line);
    while (this.#waiting.length > AHEAD && this.divergence === null)
      this.#give(this.#waiting.shift() as Line);
  }

  /** Nothing more comes. @param whole the journal was closed in good order, so nothing may be left over */
  end(whole: boolean): Divergence | null {
    this.#cut = !whole;
    while (this.#waiting.length > 0 && this.divergence === null) this.#give(this.#waiting.shift() as Line);
    // The run loop seals what is open when it closes.
    const last = this.#next();
    if (this.divergence === null && last?.record.k === 'seal') {
      this.#writer?.seal(last.record.t / 1e6);
      this.#writer?.flush();
    }
    const left = this.#next();
    if (this.divergence === null && whole && left !== null && !this.#stopped) this.#differ(left, null);
    return this.divergence;
  }

  #next(): Line | null {
    return this.#queue[this.#head] ?? null;
  }

  #drop(): void {
    this.#head++;
    if (this.#head < 4096) return;
    this.#queue = this.#queue.slice(this.#head);
    this.#head = 0;
  }

  #give({ record }: Line): void {
    const nowMs = record.t / 1e6;
    this.#nowMs = nowMs;
    if (BESIDE.has(record.k)) this.#beside(record, nowMs);
    else if (this.#session !== null) {
      this.inputs++;
      // Where the program failed in the middle of this input it did not get to its end; what it wrote must still stand.
      this.#failing = this.#waiting[0]?.record.k === 'fault';
      this.#input(this.#session, record, nowMs);
      this.#writer?.flush();
    }
  }

  /** Only the bytes of the session are decided anew: what the run loop writes is taken as it stands. */
  #beside({ k, b }: JournalRecord, nowMs: number): void {
    if (k === 'header') {
      this.#header = b as JournalHeader;
      this.#writer = this.#newWriter();
    } else if (k === 'rig') this.#rig = (b as { rig: Rig }).rig;
    else if (k === 'setup') this.#session = this.#newSession(b as JournaledSetup);
    this.#writer?.record(nowMs, k, b);
    // The run loop asks for the first sync behind the first clock.
    if (k === 'clock' && this.#synced === null && nowMs === 0) this.#writer?.requestSync(nowMs);
    this.#writer?.flush();
  }

  #input(session: Session, { k, b }: JournalRecord, nowMs: number): void {
    // biome-ignore lint/suspicious/noExplicitAny: the shape of a body follows from its kind
    const body = b as any;
    switch (k) {
      case 'frame':
        session.line(body[0], body[1], nowMs);
        return;
      case 'tick':
        session.tick(nowMs);
        return;
      case 'elapsed':
        this.#timerEnds(body, nowMs);
        session.elapsed(body.timer as TimerId, body.current, nowMs);
        return;
      case 'person':
        if (!this.#opened) session.open(nowMs);
        this.#opened = true;
        session.person(personOf(body), nowMs);
        return;
      case 'port':
        session.portDown(
          this.#rig?.link.ports.findIndex((p) => p.name === body.port) ?? -1,
          body.down,
          nowMs,
        );
        return;
      case 'fault':
        session.panic(body.why, nowMs);
        return;
      default: {
        const done = this.#synced;
        this.#synced = null;
        done?.(null);
      }
    }
  }

  /** When a timer ends is the run loop's to see to: it must have been running, and not end before its time. */
  #timerEnds({ timer, current }: { timer: TimerId; current: boolean }, nowMs: number): void {
    if (!current) return;
    const dueMs = this.#due.get(timer);
    this.#due.delete(timer);
    if (dueMs !== undefined && nowMs >= dueMs - EARLY_MS) return;
    const why = dueMs === undefined ? 'it was not running' : `it ends at ${dueMs.toFixed(3)} ms`;
    this.#differ(this.#waitingFor('elapsed'), `(the timer ${timer} cannot end now: ${why})`);
  }

  #waitingFor(kind: RecordKind): Line | null {
    for (let i = this.#head; i < this.#queue.length; i++)
      if (this.#queue[i]?.record.k === kind) return this.#queue[i] as Line;
    return null;
  }

  #newWriter(): JournalWriter {
    return new JournalWriter(
      {
        path: '',
        append: (text) => this.#compare(text),
        sync: (done) => {
          this.#synced = done;
        },
        close: async () => {},
      },
      (upTo) => this.#session?.synced(upTo, this.#nowMs),
      () => {},
      // Whether a seal fits its block is the chain's to say; here it only has to stand where it must.
      () => this.#sealAhead(),
    );
  }

  #sealAhead(): SealBody {
    for (let i = this.#head; i < this.#queue.length; i++) {
      const { record } = this.#queue[i] as Line;
      if (record.k === 'seal' && record.n === (this.#writer?.last ?? -1) + 1) return record.b as SealBody;
    }
    return { hash: '' };
  }

  #compare(text: string): void {
    const lines = text.split('\n');
    lines.pop();
    for (const decided of lines) {
      if (this.divergence !== null) return;
      const written = this.#next();
      if (this.#stopped || (written === null && this.#cut)) return;
      if (written?.raw !== decided && this.#failing) {
        this.#stopped = true;
        return;
      }
      if (written?.raw !== decided) this.#differ(written, decided);
      else {
        this.matched++;
        this.#drop();
      }
    }
  }

  #differ(written: Line | null, decided: string | null): void {
    if (this.divergence !== null) return;
    this.divergence = {
      n: written?.record.n ?? -1,
      atMs: written === null ? this.#nowMs : written.record.t / 1e6,
      kind: written?.record.k ?? null,
      written: written?.raw ?? null,
      decided,
    };
  }

  #newSession({
    wish,
    latched,
    startFaults,
    owedAcknowledgement,
    observing = null,
  }: JournaledSetup): Session {
    const { nonce, by } = this.#header as JournalHeader;
    const setup: SessionSetup = {
      rig: this.#rig as Rig,
      nonce,
      by,
      wish: wishOf(wish),
      latched,
      startFaults,
      owedAcknowledgement,
      observing,
      checks: this.#checks,
    };
    const out: SessionOutputs = {
      send: (port, line) => this.#wasSent(port, line),
      startTimer: (timer, delayMs) => void this.#due.set(timer, this.#nowMs + delayMs),
      cancelTimer: (timer) => void this.#due.delete(timer),
      started: () => {},
      energising: () => {},
      latch: () => {},
      progress: () => {},
      rejectedFrames: () => this.#rejected(),
      ended: () => {},
    };
    return new Session(setup, out, this.#writer as JournalWriter);
  }

  /** What was turned away is not in the record; how many, its end tells. */
  #rejected(): number {
    for (let i = this.#head; i < this.#queue.length; i++) {
      const { k, b } = (this.#queue[i] as Line).record;
      if (k === 'end') return (b as { rejectedFrames: number }).rejectedFrames;
    }
    return 0;
  }

  /** Whether the port took a frame is the world's to say: it stands in the record of the order. */
  #wasSent(port: number, line: string): boolean {
    const seq = Number(line.split(' ', 2)[1]);
    for (let i = this.#head; i < this.#queue.length; i++) {
      const { k, b } = (this.#queue[i] as Line).record;
      const order = b as { port?: number; seq?: number; sent?: boolean };
      if (k === 'order' && order.port === port && order.seq === seq) return order.sent === true;
    }
    return true;
  }
}

type JournaledSetup = Pick<SessionSetup, 'latched' | 'startFaults' | 'owedAcknowledgement'> & {
  /** Only in a session that proved a hard-wired protection. */
  readonly observing?: Observing | null;
  /** Numbers that are none (no target, no bound) are null in JSON. */
  readonly wish: { readonly [K in keyof Wish]: number | null };
};

const personOf = (body: PersonOrder): PersonOrder =>
  body.order === 'limit-current' ? { ...body, currentA: body.currentA ?? Number.NaN } : body;
