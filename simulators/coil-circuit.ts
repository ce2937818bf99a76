/**
 * The coil circuit of a charger on a bench that proves it: its hard-wired relays, what they do to coils and converter,
 * and the inputs by which the device times a fault, a relay and an auxiliary.
 */
import { HARD_WIRED, type HardWiredRelay, type TagKind } from '../src/link/frames.js';
import type { Order } from '../src/rig/orders.js';
import type { Rig } from '../src/rig/schema.js';
import type { Pole } from './contactor.js';
import { HardWired, type RelayWeaknesses } from './hard-wired.js';
import type { Parts } from './parts.js';
import type { PlantEvent } from './plant.js';
import type { Instruments } from './sensors.js';

export interface Proving {
  readonly relays: RelayWeaknesses;
  /** What was really built, where it differs from the rig the supervisor works by. */
  readonly built?: Rig;
  /** Faults the charger has of its own: nobody makes them, and no mark tells of them. */
  readonly unmarked?: readonly string[];
  /** Readings that do not say what is, although their counters go on; by `role:field`. */
  readonly instruments?: Instruments;
  /** The device loses its latch at the end of make-safe. */
  readonly forgetsLatch?: boolean;
  /** The device waits this many times the watchdog it agreed to. */
  readonly watchdogLate?: number;
}

/** Orders that drive a coil of the circuit. */
const CLOSES: ReadonlySet<string> = new Set(['close-p', 'close-n', 'close-pre']);
/** More than this between two reports tells nothing new. */
const MOST_EVENTS = 64;

export class CoilCircuit {
  readonly #relays: HardWired;
  readonly #unmarked: ReadonlySet<string>;
  /** Coils the device asks for while the circuit is open. */
  readonly #stillAsked = new Set<Pole>();
  #events: PlantEvent[] = [];
  #nowMs = 0;
  #hasMoved = false;

  constructor(
    private readonly parts: Parts,
    { relays, unmarked = [] }: Proving,
  ) {
    this.#unmarked = new Set(unmarked);
    this.#relays = new HardWired(
      parts,
      relays,
      (relay) => this.#open(relay),
      () => this.#close(),
    );
  }

  /** Every step of 1 ms. @returns true when a coil was let go or pulled in */
  step(nowMs: number): boolean {
    this.#nowMs = nowMs;
    this.#hasMoved = false;
    this.#relays.step(nowMs);
    return this.#hasMoved;
  }

  /** A fault was made; one that was there before anything began was made by nobody. */
  mark(fault: string, nowMs: number): void {
    if (nowMs > 0 && !this.#unmarked.has(fault)) this.#note('mark', 1, nowMs);
  }

  parted(pole: 'p' | 'n', nowMs: number): void {
    this.#note(`parted-${pole}`, 0, nowMs);
  }

  takeEvents(): readonly PlantEvent[] {
    const events = this.#events;
    this.#events = [];
    return events;
  }

  /** @returns false for an order that drives a coil while the circuit is open */
  carries({ name }: Order): boolean {
    const { poleP, poleN, polePre } = this.parts;
    const released = { 'open-p': poleP, 'open-n': poleN, 'open-pre': polePre }[name as 'open-p'];
    if (released !== undefined) this.#stillAsked.delete(released);
    return this.#relays.opened === null || !CLOSES.has(name);
  }

  /** Someone has reset the relay that stands open. */
  reset(): void {
    if (this.#relays.opened === null) return;
    this.#relays.reset();
    this.parts.converter.tripped = false;
    this.parts.stand.chainClosed = !this.parts.stand.buttonPressed;
  }

  #note(kind: TagKind, value: number, nowMs: number): void {
    if (this.#events.length < MOST_EVENTS) this.#events.push({ atMs: nowMs, kind, value });
  }

  /** Nothing holds a coil, and the converter is blocked. */
  #open(relay: HardWiredRelay): void {
    const { poleP, poleN, polePre, converter, stand } = this.parts;
    converter.tripped = true;
    for (const pole of [poleP, poleN, polePre]) {
      if (pole.coil) this.#stillAsked.add(pole);
      pole.drive(false, this.#nowMs);
    }
    stand.chainClosed = false;
    this.#note('relay', HARD_WIRED[relay], this.#nowMs);
    this.#hasMoved = true;
  }

  /** A circuit that closes by itself pulls in again whatever the device still asks for. */
  #close(): void {
    const { converter, stand } = this.parts;
    converter.tripped = false;
    stand.chainClosed = true;
    for (const pole of this.#stillAsked) pole.drive(true, this.#nowMs);
    this.#stillAsked.clear();
    this.#hasMoved = true;
  }
}
