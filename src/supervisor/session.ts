/**
 * The supervisor's one step: take one input, run the checks, give the machine the events that changed, order
 * the commands through the outgoing gate. Deterministic: the same inputs at the same times give the same
 * frames and the same journal. No clock, no timers, no I/O of its own; `SessionOutputs` is the world.
 */
import type { SessionEvent, TimerId } from '../../machines/vocabulary.js';
import { CATALOGUE } from '../checks/catalogue.js';
import { type EndReason, isFresh, type Observation, type Proof } from '../checks/check.js';
import type { JournalWriter } from '../journal/writer.js';
import { decodeToSupervisor } from '../link/codec.js';
import { FrameGate } from '../link/frame-gate.js';
import type { ToSupervisor } from '../link/frames.js';
import type { Order } from '../rig/orders.js';
import { PHASES, type Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { Accounts } from './accounts.js';
import { Answers } from './answers.js';
import { CheckRunner } from './check-runner.js';
import { Clerk, FREEING_MS } from './clerk.js';
import { Conduct } from './conduct.js';
import { phaseOf } from './decide.js';
import type { DeskView } from './desk.js';
import { Findings } from './findings.js';
import type { GateView } from './gate.js';
import { Handshakes, leftUnfinished } from './handshakes.js';
import { ownFinding, SessionLog } from './log.js';
import { Readings } from './observe.js';
import { OrderBook } from './order-book.js';
import { Outbox } from './outbox.js';
import { type EndState, type Outcome, outcomeOf } from './outcome.js';
import { PROVEN_DEAD, PROVEN_SAFE } from './permission.js';
import { portsOf } from './ports.js';
import { Regulator } from './regulator.js';
import type { PersonOrder, SessionOutputs, SessionSetup } from './session-types.js';
import { timerMs } from './timers.js';

/** Group commit: the oldest unconfirmed record is at most about this old. */
const COMMIT_EVERY_MS = 250;
/** Timers whose end is a fault of the phase; the others are ordinary steps. */
const ORDINARY_TIMERS: readonly TimerId[] = ['pole-settling', 'tripped-ramping-down', 'making-safe'];

export class Session {
  readonly #rig: Rig;
  readonly #readings: Readings;
  readonly #gates: FrameGate<ToSupervisor>[];
  readonly #findings: Findings;
  readonly #checks: CheckRunner;
  readonly #orders: OrderBook;
  readonly #outbox: Outbox;
  readonly #regulator: Regulator;
  readonly #accounts = new Accounts();
  readonly #handshakes: Handshakes;
  readonly #answers: Answers;
  readonly #log: SessionLog;
  readonly #clerk: Clerk;
  readonly #conduct: Conduct;
  #lastStepMs: number | null = null;
  #proofs: ReadonlySet<Proof | 'proven-dead'> = new Set();
  #ended = false;
  #endReason: EndReason | null = null;
  #last: Observation | null = null;
  /** As proven at the moment the plug was freed. */
  #deadState: EndState | null = null;

  constructor(
    private readonly setup: SessionSetup,
    private readonly out: SessionOutputs,
    private readonly journal: JournalWriter,
  ) {
    const { rig } = setup;
    this.#rig = rig;
    this.#findings = new Findings(setup.observing);
    this.#log = new SessionLog(out, journal);
    this.#readings = new Readings(rig.link.ports.length, rig.battery.rafts.length);
    this.#gates = rig.link.ports.map(() => new FrameGate(decodeToSupervisor, setup.nonce));
    this.#checks = new CheckRunner(rig, setup.checks);
    this.#orders = new OrderBook(rig.battery.rafts.length);
    this.#regulator = new Regulator(rig, setup.wish.maxCurrentA);
    const context = {
      nonce: setup.nonce,
      ports: rig.link.ports.length,
      portsOf: (order: Order) => portsOf(order, rig),
      send: (port: number, line: string) => out.send(port, line),
      gate: () => this.#gateView(),
      energising: () => out.energising(),
      sent: (order: Order, nowMs: number) => this.#sent(order, nowMs),
    };
    this.#outbox = new Outbox(context, journal);
    this.#handshakes = new Handshakes(rig, this.#outbox, leftUnfinished(setup));
    this.#answers = new Answers(rig, this.#outbox, this.#regulator, journal);
    const parts = { rig, out, journal, outbox: this.#outbox, regulator: this.#regulator, log: this.#log };
    this.#conduct = new Conduct(parts, setup.latched);
    this.#clerk = new Clerk({
      ...parts,
      setup,
      conduct: this.#conduct,
      give: (type, nowMs) => this.#give(type, nowMs),
      stopped: () => {
        this.#endReason ??= 'operator';
      },
      trainV: () => this.#last?.train?.value.trainV ?? Number.NaN,
      ended: () => this.#ended,
      end: (nowMs) => this.#end(nowMs),
    });
  }

  get phase(): Phase {
    return this.#conduct.phase;
  }
  get ended(): boolean {
    return this.#ended;
  }
  get tripped(): boolean {
    return this.#log.trip !== null;
  }
  get tripMs(): number | null {
    return this.#log.tripMs;
  }
  /** True once an acknowledgement, or the freeing of the plug, was carried out. */
  get carriedOut(): boolean {
    return this.#clerk.carriedOut;
  }
  /** For display only. */
  get display() {
    const { setpointA, least } = this.#regulator;
    const { energyToBatteryKwh: energyKwh } = this.#accounts;
    const told = { seen: this.#last, proofs: this.#proofs, said: this.#checks.last };
    return { ...told, setpointA, leastA: least.currentA, binding: least.limit, energyKwh };
  }

  // ---- inputs -------------------------------------------------------------------------------------

  /** Ports are open: say hello. */
  open(nowMs: number): void {
    this.#lastStepMs = nowMs;
    this.#conduct.phaseAtMs = nowMs;
    this.#handshakes.begin(nowMs);
    this.journal.flush();
  }

  /** @returns true when it led to a step; what was turned away or only answered leaves the ages unchecked */
  line(port: number, text: string, nowMs: number): boolean {
    const decoded = this.#gates[port]?.accept(text);
    if (decoded === undefined || !decoded.ok) return false;
    this.journal.record(nowMs, 'frame', [port, text]);
    this.#readings.heard(port, nowMs);
    const { body } = decoded.frame;
    const reports = body.verb === 'report' && this.#handshakes.isWelcomed(port);
    if (body.verb === 'welcome') {
      this.journal.record(nowMs, 'device', { port: this.#rig.link.ports[port]?.name, ...body });
      this.#handshakes.welcomed(port, body, nowMs);
    } else if (body.verb === 'answer') {
      const latch = this.#answers.take(port, body, nowMs);
      if (latch !== null) this.#clerk.latchAnswered(latch, nowMs);
    } else if (reports) {
      this.#readings.take(port, body.roles, nowMs);
      this.#step(nowMs, [port]);
    } else if (body.verb === 'wave')
      this.out.progress({ kind: 'wave', atS: this.#log.atS(nowMs), wave: body });
    this.journal.flush();
    return reports;
  }

  /** Nothing came for a while: the checks run all the same, so that silence is seen. */
  tick(nowMs: number): void {
    this.journal.record(nowMs, 'tick', null);
    this.#handshakes.insist(nowMs);
    const ports = this.#rig.link.ports.map((_, i) => i);
    this.#step(
      nowMs,
      ports.filter((i) => this.#handshakes.isWelcomed(i)),
    );
    this.journal.flush();
  }

  portDown(port: number, reason: string, nowMs: number): void {
    // Nothing is concluded from it: the silence deadline decides, here and at the device.
    this.journal.record(nowMs, 'port', { port: this.#rig.link.ports[port]?.name, down: reason });
    this.journal.flush();
  }

  /** A timer the machine started; `current` is false when it was cancelled or started anew meanwhile. */
  elapsed(timer: TimerId, current: boolean, nowMs: number): void {
    const event = `elapsed.${timer}` as const;
    if (current && this.#conduct.can(event)) {
      const { phase } = this.#conduct;
      this.#give(event, nowMs);
      if (!ORDINARY_TIMERS.includes(timer)) {
        const limit = timerMs(timer, this.#rig);
        const more = { part: timer, reading: limit, limit, unit: 'ms', setting: 'times' };
        this.#log.noteTrip(ownFinding('phase-overdue', nowMs, more), nowMs, phase);
      }
    }
    this.journal.record(nowMs, 'elapsed', { timer, current });
    if (current) this.#step(nowMs, []);
    this.journal.flush();
  }

  /** An order by a person. Never ignored: carried out, or refused with the reason. */
  person(order: PersonOrder, nowMs: number): void {
    this.#clerk.receive(order, nowMs);
    this.journal.record(nowMs, 'person', order);
    this.journal.flush();
  }

  synced(upTo: number, nowMs: number): void {
    this.journal.record(nowMs, 'sync', upTo);
    // What waited may have waited long: every age is checked anew before the gate is asked.
    if (this.#outbox.waiting) this.#step(nowMs, []);
    this.#outbox.synced(upTo, nowMs);
    this.journal.flush();
  }

  /** Something in here has failed: make safe past checks and machine, latch, and end. Proves nothing. */
  panic(why: string, nowMs: number): void {
    this.#outbox.dispatch([{ name: 'make-safe', args: {} }], nowMs);
    this.journal.record(nowMs, 'fault', { why });
    this.journal.flush();
    this.#proofs = new Set();
    this.#log.noteTrip(ownFinding('internal-fault', nowMs), nowMs, this.#conduct.phase);
    this.#end(nowMs);
  }

  // ---- the step -----------------------------------------------------------------------------------

  #step(nowMs: number, feed: readonly number[]): void {
    const seen = this.#observe(nowMs);
    this.#last = seen;
    this.#accounts.take(seen);
    const said = this.#checks.run(seen, this.#answers.findings(nowMs));
    const proofs = new Set<Proof | 'proven-dead'>(said.proofs);
    // Nobody asks a train in `parked`; before a plug is freed, and after a trip, it must be seen open too.
    const needed = this.#conduct.phase === 'parked' ? PROVEN_DEAD : PROVEN_SAFE;
    if (needed.every((p) => proofs.has(p))) proofs.add('proven-dead');
    this.#proofs = proofs;
    const changed = this.#findings.take(said.findings);
    const phase = this.#conduct.phase;

    if (phase !== 'parked') this.#react(phase, nowMs);
    else if (!this.#ended) this.#clerk.consider(this.#deskView(), nowMs);
    for (const f of changed.begun) this.#log.begun(f, nowMs);
    for (const f of changed.ended) this.#log.over(f, nowMs);

    this.#answers.insist(nowMs);
    if (this.#conduct.phase === phase && phase !== 'parked') this.#follow(proofs, nowMs);
    const governed = this.#conduct.snapshot.hasTag('governed');
    if (said.end !== null && governed && this.#conduct.can('end')) {
      this.#endReason ??= said.end;
      this.#give('end', nowMs);
    }
    const wanted = this.#checks.wanted(
      said,
      this.#conduct.phase,
      this.#conduct.snapshot,
      this.#orders.standing,
    );
    if (!this.tripped) this.#outbox.dispatch(wanted, nowMs);
    this.#outbox.dispatch(this.#regulator.step(seen, said.limits, this.tripped, nowMs), nowMs);
    const { least } = this.#regulator;
    if (governed && this.#accounts.bind(least.limit, this.#log.atS(nowMs))) {
      this.journal.record(nowMs, 'limit', least);
      this.out.progress({ kind: 'limit', atS: this.#log.atS(nowMs), limit: least });
    }
    // Only a completed step feeds the device watchdogs.
    for (const port of feed)
      this.#outbox.frame(port, { verb: 'feed', phase: PHASES.indexOf(this.#conduct.phase) });
    this.#readings.settle();
    this.#lastStepMs = nowMs;
    if (this.#conduct.phase === 'released' && (proofs.has('plug-free') || seen.phaseMs >= FREEING_MS))
      this.#end(nowMs);
    if (this.journal.lagMs(nowMs) >= COMMIT_EVERY_MS) this.journal.requestSync(nowMs);
  }

  /** Failing findings act on a session under way; the first that latches is the trip. */
  #react(phase: Phase, nowMs: number): void {
    const acting = this.#findings.acting(nowMs);
    if (acting === null || this.#conduct.snapshot.hasTag('ended')) return;
    const { effect } = CATALOGUE[acting.code];
    if (effect !== 'trip-0' && effect !== 'trip-1' && effect !== 'stop') return;
    if (!this.#conduct.can(effect)) return;
    if (effect === 'stop') this.#endReason ??= acting.code === 'journal-lag' ? 'journal' : 'operator';
    this.#give(effect, nowMs);
    if (effect !== 'stop') this.#log.noteTrip(acting, nowMs, phase);
  }

  /**
   * Offers the machine one proof that stands and would lead on. One a step: what is proven after it must be
   * proven by an observation made after it.
   */
  #follow(proofs: ReadonlySet<Proof | 'proven-dead'>, nowMs: number): void {
    for (const wanted of proofs) {
      if (!this.#conduct.wants(wanted as SessionEvent['type'])) continue;
      if (wanted === 'proven-dead') {
        this.#accounts.residual(this.#last);
        this.#deadState = this.endState();
      }
      this.#give(wanted as SessionEvent['type'], nowMs);
      return;
    }
  }

  #give(type: SessionEvent['type'], nowMs: number): void {
    this.#conduct.give(type, this.#last, nowMs);
    const { phase } = this.#conduct;
    if (phase === 'safe' || phase === 'not-proven-dead') this.#end(nowMs);
  }

  #sent(order: Order, nowMs: number): void {
    this.#orders.note(order, nowMs);
    this.#regulator.sent(order, nowMs);
  }

  // ---- views ---------------------------------------------------------------------------------------

  #observe(nowMs: number): Observation {
    return this.#readings.observe({
      nowMs,
      stepMs: nowMs - (this.#lastStepMs ?? nowMs),
      phase: this.#conduct.phase,
      phaseMs: nowMs - this.#conduct.phaseAtMs,
      trippedIn: this.#log.trip?.phase ?? null,
      ordered: this.#orders.view(nowMs),
      wish: this.setup.wish,
      governed: this.#regulator.view(),
      journal: { lagMs: this.journal.lagMs(nowMs), failed: this.journal.failed !== null },
      energyToBatteryKwh: this.#accounts.energyToBatteryKwh,
      sessionMs: this.#log.startedMs === null ? 0 : nowMs - this.#log.startedMs,
    });
  }

  #deskView(): DeskView {
    return {
      handshakes: this.#handshakes,
      complete: this.#readings.complete(),
      standing: this.#findings.standing,
      proofs: this.#proofs,
      plugV: this.#last?.meter?.value.plugV ?? Number.NaN,
    };
  }

  #gateView(): GateView {
    return {
      // At the moment of sending the machine is already in its new state.
      phase: phaseOf(this.#conduct.snapshot),
      tripped: this.#conduct.snapshot.hasTag('tripped'),
      ended: this.#conduct.snapshot.hasTag('ended'),
      proofs: this.#proofs,
      fresh: !this.#findings.has('reading-stale', 'raft-silent', 'link-silent'),
      matchesVoltage: this.#rig.converter.matchesVoltage,
      authorityA: this.#regulator.authorityA,
      matchCurrentA: this.#rig.converter.matchCurrentA,
      leastLimitA: this.#regulator.least.currentA,
      setpointA: this.#orders.setpointA,
    };
  }

  endState(): EndState {
    const has = (p: Proof | 'proven-dead'): boolean => this.#proofs.has(p);
    return {
      provenDead: has('proven-dead'),
      polesProvenOpen: has('open-p') && has('open-n'),
      outputDead: has('output-dead'),
      plugDead: has('plug-dead'),
      plugLocked: this.#plugLocked(),
    };
  }

  /** As seen now: what a silent device said once proves nothing (I7). */
  #plugLocked(): boolean {
    const latch = this.#last?.latch ?? null;
    return isFresh(latch, this.#rig.link.fastReadingMs) && latch.value.locked === 1;
  }

  outcome(nowMs: number): Outcome {
    return outcomeOf({
      log: this.#log,
      accounts: this.#accounts,
      endState:
        this.#conduct.phase === 'released' && this.#deadState
          ? { ...this.#deadState, plugLocked: this.#plugLocked() }
          : this.endState(),
      endReason: this.#endReason,
      durationS: this.#log.atS(nowMs),
      rejectedFrames: this.out.rejectedFrames(this.#gates.reduce((sum, g) => sum + g.rejected, 0)),
      journal: this.journal.store.path,
    });
  }

  #end(nowMs: number): void {
    if (this.#ended) return;
    this.#ended = true;
    const outcome = this.outcome(nowMs);
    // Where the journal lies is no part of it: the same session gives the same bytes wherever it is kept.
    const { journal: _path, ...told } = outcome;
    this.journal.record(nowMs, 'end', told);
    this.journal.requestSync(nowMs);
    this.out.ended(outcome);
  }
}
