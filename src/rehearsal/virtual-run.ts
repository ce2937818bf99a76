/**
 * A session in virtual time: the real supervisor, codec and run loop over memory links against the simulated
 * bench. Dry-runs, the scenario table and tests all go through here.
 */

import type { Proving } from '../../simulators/coil-circuit.js';
import { type Hosting, virtualDevices } from '../../simulators/device-host.js';
import type { Scenario } from '../../simulators/scenario.js';
import { SeededRandom } from '../../simulators/seeded-random.js';
import type { TruthRecorder, TruthSummary } from '../../simulators/truth.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { VirtualStore } from '../../simulators/virtual-store.js';
import { World } from '../../simulators/world.js';
import { wishOf } from '../checks/check.js';
import type { Clock } from '../host/clock.js';
import type { SmallFiles } from '../host/durable-file.js';
import type { JournalStore } from '../host/journal-store.js';
import { newNonce } from '../host/random.js';
import { SOFTWARE } from '../host/version.js';
import type { Signing } from '../journal/keys.js';
import { LatchFile } from '../journal/latch.js';
import type { Planned } from '../journal/planned.js';
import type { Link } from '../link/link.js';
import type { LoadedRig } from '../rig/load.js';
import type { Observing } from '../supervisor/observing.js';
import { exitCodeOf, type Outcome } from '../supervisor/outcome.js';
import { Runner } from '../supervisor/runner.js';
import type { PersonOrder, Progress, SessionSetup } from '../supervisor/session-types.js';

/** No session is simulated for longer than this. */
const LONGEST_S = 26 * 3600;
/** Turns of promises after one event, and events while a port opens. */
const SETTLE = 20;
const MOST_TURNS = 100_000;
/** After the end the world runs on for this long, so that what the device still does is in the truth. */
const AFTER_END_MS = 2000;

export interface VirtualRunOptions {
  readonly loaded: LoadedRig;
  readonly scenario: Pick<Scenario, 'seed' | 'start' | 'inject' | 'wish' | 'orders'>;
  readonly stateDir: string;
  /** Where the trip latch is kept; on disk when absent. */
  readonly latchFiles?: SmallFiles;
  readonly journalPath: string;
  readonly sink: { append(text: string): void; close(): Promise<void> };
  readonly truth?: TruthRecorder;
  readonly by?: string;
  readonly order?: PersonOrder['order'];
  readonly checks?: SessionSetup['checks'];
  readonly signing?: Signing;
  /** A bench that proves a charger: its hard-wired relays, and what the supervisor only observes meanwhile. */
  readonly proving?: Proving;
  readonly observing?: Observing;
  readonly planned?: Planned;
  /** Another store than the simulated disk: a real file, or one that loses what was not synced. */
  newStore?(clock: Clock, path: string): JournalStore;
  /** Puts something between the supervisor and its lines; tests tamper with the traffic here. */
  wire?(links: readonly Link[], clock: Clock): readonly Link[];
  /** Simulated instruments behind ports, by name; `wire` puts the adapters before them. */
  readonly instruments?: ReadonlyMap<string, Hosting>;
  onProgress?(what: Progress, runner: Runner): void;
}

export interface VirtualRun {
  /** The supervisor itself failed. */
  readonly fault: Error | null;
  readonly outcome: Outcome;
  readonly exit: number;
  /** Virtual time of the trip. */
  readonly tripMs: number | null;
  readonly truth: TruthSummary;
  readonly bench: World;
  /** Last seal of the journal. */
  readonly head: string;
}

function personOrder({ order, currentA }: Scenario['orders'][number], by: string): PersonOrder {
  return currentA === undefined ? { order, by } : { order, by, currentA };
}

export async function runVirtual(options: VirtualRunOptions): Promise<VirtualRun> {
  const { loaded, scenario, stateDir } = options;
  const { rig } = loaded;
  const clock = new VirtualClock();
  const random = new SeededRandom(scenario.seed);
  const { proving } = options;
  const built = proving?.built ?? rig;
  const bench = new World({
    rig: built,
    seed: scenario.seed,
    start: scenario.start,
    inject: scenario.inject,
    ...(options.truth ? { truth: options.truth } : {}),
    ...(proving ? { proving } : {}),
  });
  const latch = new LatchFile(stateDir, rig.name, options.latchFiles);
  const latched = scenario.start.latched === true;
  if (latched) latch.trip('loop-open', 'holding', 'an earlier journal', clock.wallMs());
  const { links } = virtualDevices({
    clock,
    plant: bench,
    rig: built,
    ...(proving?.watchdogLate ? { watchdogLate: proving.watchdogLate } : {}),
    ...(proving?.forgetsLatch ? { forgetsLatch: true } : {}),
    random: random.fork('line'),
    latchedPorts: latched ? rig.link.ports.map((p) => p.name) : [],
    ...(options.instruments ? { instruments: options.instruments } : {}),
  });
  const store =
    options.newStore?.(clock, options.journalPath) ??
    new VirtualStore(options.journalPath, clock, () => bench.hostFaults(), options.sink);
  const by = options.by ?? 'dry-run';
  let ended: Outcome | null = null;
  const runner: Runner = new Runner({
    rig,
    rigHash: loaded.hash,
    software: SOFTWARE,
    clock,
    clockKind: 'virtual',
    links: options.wire?.(links, clock) ?? links,
    store,
    latch,
    nonce: newNonce(random.fork('nonce')),
    by,
    wish: wishOf(scenario.wish),
    order: options.order ?? 'start',
    ...(options.checks ? { checks: options.checks } : {}),
    ...(options.signing ? { signing: options.signing } : {}),
    ...(options.observing ? { observing: options.observing } : {}),
    ...(options.planned ? { planned: options.planned } : {}),
    onProgress: (what) => {
      if (what.kind === 'phase') {
        for (const o of scenario.orders) {
          if (o.phase !== what.phase) continue;
          clock.after((o.afterS ?? 0) * 1000, () => runner.person(personOrder(o, by)));
        }
      }
      options.onProgress?.(what, runner);
    },
    onEnded: (outcome) => {
      ended = outcome;
    },
  });
  // An adapter talks to its instrument while it opens, which takes time; a line just opens.
  const whole = (work: Promise<void>) => (options.instruments ? whileTimeRuns(clock, work) : work);
  await whole(runner.open());
  clock.runUntil(LONGEST_S * 1000, () => ended !== null);
  if (ended === null) throw new Error('the simulated session found no end');
  clock.runUntil(clock.nowMs() + AFTER_END_MS);
  await whole(runner.close());
  const outcome = withInjection(ended, bench, runner);
  const { tripMs } = runner.session;
  const { fault } = runner;
  const { head } = runner;
  return { outcome, exit: exitCodeOf(outcome), tripMs, truth: bench.summary(), bench, fault, head };
}

/** Lets promises settle after each event, until this one has. */
async function whileTimeRuns(clock: VirtualClock, work: Promise<void>): Promise<void> {
  let isOver = false;
  const over = work.finally(() => {
    isOver = true;
  });
  // Whoever fails is told by the last line.
  over.catch(() => {});
  for (let turn = 0; !isOver && turn < MOST_TURNS; turn++) {
    for (let i = 0; i < SETTLE; i++) await null;
    if (!isOver) clock.step();
  }
  return over;
}

/** From the last fault switched on before the trip to the decision; only a simulation can know. */
function withInjection(outcome: Outcome, bench: World, runner: Runner): Outcome {
  const { trip } = outcome;
  const tripMs = runner.session.tripMs;
  if (trip === null || tripMs === null) return outcome;
  const fault = bench.faultLog.filter((f) => f.on && f.atMs <= tripMs).at(-1);
  return { ...outcome, trip: { ...trip, fromInjectionMs: fault ? tripMs - fault.atMs : null } };
}
