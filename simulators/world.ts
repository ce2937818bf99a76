/**
 * The world a simulated device sits on: all parts coupled through one network, stepped at 1 ms; slow parts (cells,
 * heat, supply) every 10 ms. Everything is driven by orders, phases and time; the same seed gives the same run.
 */
import { NO_TROUBLE, type Trouble } from '../src/link/memory.js';
import type { Order } from '../src/rig/orders.js';
import type { Phase, ReadingOf, Role } from '../src/rig/roles.js';
import type { Rig } from '../src/rig/schema.js';
import { carryOut } from './carry-out.js';
import { CoilCircuit, type Proving } from './coil-circuit.js';
import type { Pole } from './contactor.js';
import { EFFECTS, type EffectTools } from './fault-effects.js';
import { type FaultEvent, FaultSchedule, type Injection } from './faults.js';
import { Meters } from './meters.js';
import { makeParts, type Parts, remakeLines } from './parts.js';
import type { Plant, PlantEvent } from './plant.js';
import type { Start } from './scenario.js';
import { SeededRandom } from './seeded-random.js';
import { Sensors } from './sensors.js';
import { TrueReadings } from './true-readings.js';
import { Ledger, summarise, type TruthRecorder, type TruthSummary, truthRow } from './truth.js';

const SLOW_MS = 10;
const STEP_S = 1e-3;
const SLOW_S = SLOW_MS * STEP_S;
/** Leakage is small and steady: it is looked at this often. */
const LEAKAGE_MS = 100;
/** Cable and contacts warm in minutes. */
const WARM_MS = 100;
export interface WorldOptions {
  readonly rig: Rig;
  readonly seed: number;
  readonly start?: Start;
  readonly inject?: readonly Injection[];
  readonly truth?: TruthRecorder;
  /** A bench that proves a charger: its hard-wired relays, and the inputs that time them. */
  readonly proving?: Proving;
}

/** Faults of the host, for the journal store. */
export interface HostFaults {
  readonly journalDelayMs: number;
  readonly journalFails: boolean;
}

interface Glide {
  readonly fromMs: number;
  readonly overMs: number;
  readonly set: (share: number) => void;
}

interface Later {
  readonly atMs: number;
  readonly run: () => void;
}

export class World implements Plant {
  readonly rig: Rig;
  readonly parts: Parts;
  readonly ledger: Ledger;
  readonly #sensors: Sensors;
  readonly #schedule: FaultSchedule;
  readonly #truth: TruthRecorder | null;
  readonly #truthEveryMs: number;
  readonly #trueReadings: TrueReadings | null;
  readonly #row: number[] = [];
  readonly #seenPhases = new Set<Phase>();
  #phase: Phase = 'parked';
  #nowMs = 0;
  #glides: Glide[] = [];
  #later: Later[] = [];
  #outputV = 0;
  readonly #meters: Meters;
  #squareSumA2 = 0;
  readonly #coils: CoilCircuit | null;
  /** Earliest end of any movement under way. */
  #dueMs = Number.POSITIVE_INFINITY;

  constructor(options: WorldOptions) {
    this.rig = options.rig;
    const random = new SeededRandom(options.seed);
    this.parts = makeParts(options.rig, options.start ?? {}, random);
    this.#sensors = new Sensors(this.parts, random.fork('sensors'), options.proving?.instruments);
    this.ledger = new Ledger(this.parts.rafts.length);
    this.#meters = new Meters(this.parts.circuit, this.parts.converter, this.ledger, this.parts.rafts.length);
    this.#truth = options.truth ?? null;
    this.#truthEveryMs = Math.max(1, Math.round(options.truth?.everyMs ?? 10));
    const readings = options.truth?.reading;
    this.#trueReadings = readings ? new TrueReadings(this.parts, this.ledger, readings) : null;
    this.#setLines();
    const tools = this.#effectTools();
    this.#coils = options.proving === undefined ? null : new CoilCircuit(this.parts, options.proving);
    this.#schedule = new FaultSchedule(options.inject ?? [], (due) => {
      this.#coils?.mark(due.fault, this.#nowMs);
      return EFFECTS[due.fault](tools, due);
    });
    this.#schedule.phaseSeen('start', 0);
    this.#schedule.run(0, this.#phase);
    this.#planDue();
  }

  get nowMs(): number {
    return this.#nowMs;
  }

  /** As the supervisor said it last. */
  get phase(): Phase {
    return this.#phase;
  }

  /** What was injected and when. */
  get faultLog(): readonly FaultEvent[] {
    return this.#schedule.log;
  }

  advanceTo(tMs: number): void {
    while (this.#nowMs + 1 <= tMs) this.#step();
  }

  setPhase(phase: Phase): void {
    this.#phase = phase;
    if (this.#seenPhases.has(phase)) return;
    this.#seenPhases.add(phase);
    this.#schedule.phaseSeen(phase, this.#nowMs);
  }

  /** Injects a fault now (or `afterS` from now), outside any scenario. */
  inject(injection: Omit<Injection, 'phase'>): void {
    this.#schedule.inject(injection, this.#nowMs);
  }

  /** A fault box is cleared and a relay reset: the bench is as it was built. */
  clearFaults(): void {
    this.#schedule.clear(this.#nowMs, this.#phase);
    this.#coils?.reset();
    this.#meters.close();
    this.#planDue();
  }

  /**
   * What taking a fault back does not mend, somebody mends by hand: a plug that was drawn goes back in, shoes go down,
   * contactors work again, the supply breaker is closed. Cells stay as they are.
   */
  mend(): void {
    this.#meters.close();
    // A plug on its way out stays in.
    this.#later = [];
    const { parts } = this;
    for (const pole of [parts.poleP, parts.poleN, parts.polePre, parts.train.p, parts.train.n])
      pole.setDefect('none', this.#nowMs);
    parts.pilot?.change({ open: false }, this.#nowMs);
    parts.touching.p = true;
    parts.touching.n = true;
    parts.stand.mend();
    parts.supply.close();
    remakeLines(parts);
    this.#planDue();
  }

  read<R extends Exclude<Role, 'device'>>(role: R, raft = 1): ReadingOf<R> {
    this.#trueReadings?.note(role, raft, this.#nowMs);
    return this.#sensors.read(role, raft, this.#nowMs);
  }

  pilotWaveform(): { readonly samplesA: Float64Array; readonly spacingS: number } {
    const pilot = this.parts.pilot;
    if (pilot === null) return { samplesA: new Float64Array(0), spacingS: 1e-3 };
    return { samplesA: pilot.samples(this.#nowMs), spacingS: pilot.spacingS };
  }

  portDead(port: string): boolean {
    return this.parts.outside.silent || this.parts.outside.lostPorts.has(port);
  }

  deaf(): boolean {
    return this.parts.outside.deaf;
  }

  /** What is wrong with the line of a port now; a dead port is a matter of `portDead`. */
  lineTrouble(_port: string): Trouble {
    const { corruptShare, dropShare } = this.parts.outside;
    return corruptShare === 0 && dropShare === 0 ? NO_TROUBLE : { ...NO_TROUBLE, corruptShare, dropShare };
  }

  hostFaults(): HostFaults {
    const { journalDelayMs, journalFails } = this.parts.outside;
    return { journalDelayMs, journalFails };
  }

  summary(): TruthSummary {
    return summarise(this.parts, this.ledger, this.#nowMs);
  }

  /** A bench instrument in the place of the train: holds these volts at its terminals, or is off. */
  holdTrain(volts: number | null): void {
    this.#meters.close();
    const { rafts, train, circuit } = this.parts;
    const raft = rafts[0]!;
    raft.hold(volts);
    train.p.drive(volts !== null, this.#nowMs);
    train.n.drive(volts !== null, this.#nowMs);
    circuit.setRaft(0, raft.branchOhm(), raft.emfV());
    this.#planDue();
  }

  takeEvents(): readonly PlantEvent[] {
    return this.#coils?.takeEvents() ?? [];
  }

  apply(order: Order): void {
    this.#meters.close();
    if (this.#coils?.carries(order) !== false) carryOut(order, this.parts, this.#outputV, this.#nowMs);
    this.#planDue();
  }

  #step(): void {
    const now = ++this.#nowMs;
    if (now >= this.#schedule.nextMs || now >= this.#dueMs || this.#later.length > 0) this.#change(now);
    const { circuit, converter, supply } = this.parts;
    const openV = circuit.network.prepare();
    const sourceA = converter.step(
      now,
      this.#outputV,
      openV,
      circuit.network.liftOhm,
      supply.breakerClosed && !supply.notReady,
    );
    circuit.network.deliver(sourceA);
    const outputV = circuit.outputV();
    this.#outputV = outputV;
    const poleA = circuit.poleA('p');
    const plugV = circuit.plugV();
    this.#sensors.track(poleA, outputV, plugV);
    this.#trueReadings?.track(poleA, outputV, plugV);
    this.#meters.add(sourceA, outputV, plugV);
    const ledger = this.ledger;
    if (poleA > ledger.peakA) ledger.peakA = poleA;
    if (poleA < ledger.leastA) ledger.leastA = poleA;
    if (outputV > ledger.peakOutputV) ledger.peakOutputV = outputV;
    if (converter.referenceA > ledger.maxSetpointA) ledger.maxSetpointA = converter.referenceA;
    if (this.#coils?.step(now) === true) this.#planDue();
    if (now % SLOW_MS === 0) this.#slowStep(now);
    if (this.#truth !== null && now % this.#truthEveryMs === 0) {
      truthRow(this.#row, this.parts, this.ledger, now, this.#phase);
      this.#truth.sink.row(this.#row);
    }
  }

  /** Faults and movements that come due in this step change the circuit before it is solved. */
  #change(now: number): void {
    this.#meters.close();
    if (now >= this.#schedule.nextMs) this.#schedule.run(now, this.#phase);
    if (this.#later.length > 0) this.#runLater(now);
    this.#settle(now);
    this.#planDue();
  }

  #planDue(): void {
    const { poleP, poleN, polePre, train, rafts, stand, supply } = this.parts;
    let due = Math.min(poleP.dueMs, poleN.dueMs, polePre.dueMs, train.p.dueMs, train.n.dueMs);
    due = Math.min(due, stand.latchDueMs, supply.breakerDueMs);
    for (const raft of rafts) due = Math.min(due, raft.dueMs);
    this.#dueMs = due;
  }

  /** Ends all movements that are due. */
  #settle(now: number): void {
    const { poleP, poleN, polePre, train, rafts, stand, supply, circuit } = this.parts;
    if (now >= poleP.dueMs) this.#settlePole('p', poleP, now);
    if (now >= poleN.dueMs) this.#settlePole('n', poleN, now);
    if (now >= polePre.dueMs && polePre.settle(now)) circuit.setPre(polePre.closed);
    if (now >= train.p.dueMs && train.p.settle(now)) remakeLines(this.parts);
    if (now >= train.n.dueMs && train.n.settle(now)) remakeLines(this.parts);
    for (let i = 0; i < rafts.length; i++) {
      const raft = rafts[i]!;
      if (now >= raft.dueMs && raft.settle(now)) circuit.setRaft(i, raft.branchOhm(), raft.emfV());
    }
    if (now >= stand.latchDueMs) stand.settle(now);
    if (now >= supply.breakerDueMs) supply.settle(now);
  }

  #settlePole(name: 'p' | 'n', pole: Pole, now: number): void {
    const { aux } = pole;
    if (pole.settle(now)) this.#setPole(name, pole.closed);
    if (aux && !pole.aux) this.#coils?.parted(name, now);
  }

  /** Makes a pole follow in the network, and notes what current it broke. */
  #setPole(pole: 'p' | 'n', closed: boolean): void {
    if (!closed) {
      const brokenA = Math.abs(this.parts.circuit.poleA(pole));
      if (brokenA > this.ledger.maxBrokenA) this.ledger.maxBrokenA = brokenA;
    }
    this.parts.circuit.setPole(pole, closed);
  }

  #slowStep(now: number): void {
    const { circuit, converter, supply, cable, bleeders, rafts, isolation } = this.parts;
    const ledger = this.ledger;
    this.#meters.close();
    if (this.#glides.length > 0) this.#runGlides(now);
    const sums = this.#meters.slow;
    const outputW = sums.outputJ / SLOW_S;
    const lossW = sums.lossJ / SLOW_S + converter.noLoadW();
    converter.warm(SLOW_S, outputW, lossW);
    supply.step(SLOW_S, outputW + lossW);
    ledger.supplyJ += supply.powerW * SLOW_S;
    ledger.converterLossJ += supply.breakerClosed ? lossW * SLOW_S : 0;
    ledger.outputJ += sums.outputJ;
    ledger.bleederJ += sums.bleedOutputJ + sums.bleedPlugJ;
    if (now % LEAKAGE_MS === 0) ledger.leakageJ += circuit.leakageW() * LEAKAGE_MS * STEP_S;
    const poleMeanA = sums.poleA / sums.steps;
    ledger.ramp(poleMeanA);
    ledger.poleMeanA = poleMeanA;
    ledger.converterMeanA = sums.converterA / sums.steps;
    this.#sensors.poleMeanA = ledger.poleMeanA;
    this.#sensors.converterMeanA = ledger.converterMeanA;
    this.#squareSumA2 += sums.poleA2 / sums.steps;
    if (now % WARM_MS === 0) {
      cable.warm(WARM_MS * STEP_S, (this.#squareSumA2 * SLOW_MS) / WARM_MS);
      this.#squareSumA2 = 0;
      this.#setLines();
    }
    bleeders.warm(SLOW_S, sums.bleedOutputJ, sums.bleedPlugJ);
    for (let i = 0; i < rafts.length; i++) {
      const raft = rafts[i]!;
      raft.step(SLOW_S, sums.raftA[i]! / sums.steps);
      circuit.setRaft(i, raft.branchOhm(), raft.emfV());
    }
    isolation.watch();
    sums.clear();
  }

  #setLines(): void {
    this.parts.circuit.setLineOhm('p', this.parts.cable.poleOhm('p'));
    this.parts.circuit.setLineOhm('n', this.parts.cable.poleOhm('n'));
  }

  #runGlides(now: number): void {
    for (const glide of this.#glides) glide.set(Math.min(1, (now - glide.fromMs) / glide.overMs));
    this.#glides = this.#glides.filter((glide) => now - glide.fromMs < glide.overMs);
  }

  #runLater(now: number): void {
    const due = this.#later.filter((later) => later.atMs <= now);
    if (due.length === 0) return;
    this.#later = this.#later.filter((later) => later.atMs > now);
    for (const later of due) later.run();
  }

  #effectTools(): EffectTools {
    return {
      parts: this.parts,
      sensors: this.#sensors,
      nowMs: () => this.#nowMs,
      glide: (overMs, set) => {
        set(0);
        this.#glides.push({ fromMs: this.#nowMs, overMs, set });
      },
      later: (afterMs, run) => {
        this.#later.push({ atMs: this.#nowMs + Math.round(afterMs), run });
      },
      setPoleClosed: (pole, closed) => {
        if (pole === 'pre') {
          this.parts.polePre.force(closed);
          this.parts.circuit.setPre(closed);
          return;
        }
        (pole === 'p' ? this.parts.poleP : this.parts.poleN).force(closed);
        this.#setPole(pole, closed);
      },
    };
  }
}
