/**
 * A step in which the supervisor's machine loses its power in mid-session: nothing it says goes out any more, and of its
 * journal only what was confirmed is sure to be there, and whatever else the disk happened to hold. The charger must
 * make itself safe without it, and the next start must be refused.
 */
import type { SeededRandom } from '../../simulators/seeded-random.js';
import { Audit } from '../audit/audit.js';
import type { Clock } from '../host/clock.js';
import { filesInMemory, type SmallFiles } from '../host/durable-file.js';
import type { JournalStore } from '../host/journal-store.js';
import { SOFTWARE } from '../host/version.js';
import type { Link } from '../link/link.js';
import { runVirtual, type VirtualRunOptions } from '../rehearsal/virtual-run.js';
import type { Outcome } from '../supervisor/outcome.js';
import { jitterS } from './making.js';
import type { Facts } from './measure.js';
import type { Step } from './procedure.js';

/** A quick disk. */
const SYNC_MS = 3;
/** What a session whose power is lost may leave behind (src/journal/FORMAT.md). */
const LEFT_BEHIND: readonly string[] = ['unfinished', 'torn-tail'];

/** A disk that forgets, when its power goes, what it had not confirmed; all but a part of it, cut anywhere. */
class LosingStore implements JournalStore {
  readonly path = 'journal';
  #text = '';
  /** Told to the supervisor, and truly kept: the same, unless the disk lies. */
  #confirmedChars = 0;
  #keptChars = 0;
  #confirmedRecords = 0;
  #isLost = false;

  constructor(
    private readonly clock: Clock,
    private readonly random: SeededRandom,
    private readonly lies: boolean,
  ) {}

  append(text: string): void {
    if (!this.#isLost) this.#text += text;
  }

  sync(done: (error: Error | null) => void): void {
    const upTo = this.#text.length;
    this.clock.after(SYNC_MS, () => {
      if (this.#isLost) return;
      // One that lies keeps what the sync before this one was about.
      this.#keptChars = this.lies ? this.#confirmedChars : upTo;
      this.#confirmedChars = upTo;
      this.#confirmedRecords = this.#text.slice(0, upTo).split('\n').length - 1;
      done(null);
    });
  }

  close(): Promise<void> {
    return Promise.resolve();
  }

  lose(): void {
    if (this.#isLost) return;
    this.#isLost = true;
    const loose = this.lies ? 0 : this.#text.length - this.#keptChars;
    this.#text = this.#text.slice(0, this.#keptChars + Math.floor(this.random.between(0, loose + 1)));
  }

  get left(): string {
    return this.#text;
  }
  /** Whole records that were confirmed. */
  get confirmedRecords(): number {
    return this.#confirmedRecords;
  }
}

/** What the machine says and hears ends with its power. */
function cut(link: Link, isLost: () => boolean): Link {
  return {
    port: link.port,
    get generation() {
      return link.generation;
    },
    get dropped() {
      return link.dropped;
    },
    open: ({ line, down }) =>
      link.open({
        line: (text) => {
          if (!isLost()) line(text);
        },
        down,
      }),
    send: (text) => !isLost() && link.send(text),
    close: () => link.close(),
  };
}

export interface PowerLoss {
  /** What is left of the journal. */
  readonly left: string;
  /** The journal of the next start, and what came of it. */
  readonly next: { readonly journal: string; readonly outcome: Outcome; readonly exit: number };
  readonly facts: Facts;
  /** What is wrong with what was left behind, in words. */
  readonly deviations: readonly string[];
}

/** @param options of the session, without its store */
export async function losePower(
  step: Step & { readonly powerLoss: NonNullable<Step['powerLoss']> },
  options: Omit<VirtualRunOptions, 'sink' | 'latchFiles' | 'newStore' | 'wire' | 'onProgress'>,
  random: SeededRandom,
  diskLies: boolean,
): Promise<PowerLoss> {
  const files = filesInMemory();
  let isLost = false;
  // What a process without power would still write is not written.
  const latchFiles: SmallFiles = {
    read: (path) => files.read(path),
    write: (path, text) => {
      if (!isLost) files.write(path, text);
    },
  };
  const { phase, afterS } = step.powerLoss;
  const lateS = jitterS(random);
  let store: LosingStore | null = null;
  let later: Clock['after'] = () => () => {};
  const sink = { append: () => {}, close: async () => {} };
  const run = await runVirtual({
    ...options,
    latchFiles,
    sink,
    newStore: (clock) => {
      later = (ms, act) => clock.after(ms, act);
      store = new LosingStore(clock, random.fork('disk'), diskLies);
      return store;
    },
    wire: (links) => links.map((link) => cut(link, () => isLost)),
    onProgress: (what) => {
      if (what.kind !== 'phase' || what.phase !== phase || isLost) return;
      later(1000 * (afterS + lateS), () => {
        isLost = true;
        store?.lose();
      });
    },
  });
  const happened = isLost;
  const { left, confirmedRecords } = store as unknown as LosingStore;
  const audit = new Audit({ software: SOFTWARE });
  audit.feed(Buffer.from(left));
  const { row } = audit.end();
  const { plugPositiveV, plugNegativeV, plugV } = run.bench.read('meter');
  let journal = '';
  const next = await runVirtual({
    ...options,
    scenario: { ...options.scenario, inject: [], orders: [] },
    latchFiles: files,
    sink: {
      append: (text) => {
        journal += text;
      },
      close: async () => {},
    },
  });
  const whole = left.split('\n').length - 1;
  return {
    left,
    next: { journal, outcome: next.outcome, exit: next.exit },
    facts: {
      lostRecords: Math.max(0, confirmedRecords - whole),
      plugAfterLossV: Math.max(...[plugV, plugPositiveV, plugNegativeV].map(Math.abs)),
    },
    deviations: [
      ...(happened ? [] : ['the session ended before its power was taken']),
      ...(LEFT_BEHIND.includes(row)
        ? []
        : [`the journal left behind reads as ${row}, expected ${LEFT_BEHIND.join(' or ')}`]),
    ],
  };
}
