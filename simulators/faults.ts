/**
 * The faults the simulated world can be given, and their timing. What each does to the parts is in
 * fault-effects.ts; this table is what scenario files and documents refer to.
 */
import type { Phase } from '../src/rig/roles.js';

export interface FaultDefinition {
  /** Unit of the magnitude; '' where it has none. */
  readonly unit: string;
  readonly magnitude: number;
  /** Part concerned when none is named; undefined where the fault has no parts. */
  readonly part?: string;
  readonly text: string;
}

const fault = (unit: string, magnitude: number, text: string, part?: string): FaultDefinition =>
  part === undefined ? { unit, magnitude, text } : { unit, magnitude, text, part };

export const FAULTS = {
  // pilot loop
  'loop-open': fault('', 1, 'the pilot loop opens'),
  'loop-crush': fault('ohm', 5, 'the diode is bridged by this resistance'),
  'loop-reverse': fault('', 1, 'the diode conducts the wrong way'),
  'loop-leak': fault('ohm', 1000, 'shunt leakage, falling from 5 kilohm to this within 4 s'),
  'pilot-dead': fault('', 1, 'the pilot source gives nothing'),
  // isolation; parts: charger, cable or train, then -p or -n
  'isolation-one-pole': fault('ohm', 20_000, 'leakage of one pole to chassis', 'cable-p'),
  'isolation-both-poles': fault('ohm', 20_000, 'leakage of both poles to chassis, each', 'cable'),
  'stored-charge': fault('F', 2e-6, 'added capacitance of each pole to chassis', 'train'),
  // contactors; part p, n or pre
  'contactor-weld': fault('', 1, 'a pole stays closed once it has closed; its auxiliary says so', 'p'),
  'contactor-weld-at-rest': fault('', 1, 'a pole is closed without being driven', 'p'),
  'contactor-wont-close': fault('', 1, 'a pole does not pull in', 'p'),
  'contactor-drops': fault('', 1, 'a closed pole falls open', 'p'),
  'aux-says-closed': fault('', 1, 'a pole stays open, its auxiliary follows the coil', 'p'),
  'aux-says-open': fault('', 1, 'a pole stays closed, its auxiliary follows the coil', 'p'),
  'precharge-shorted': fault('', 1, 'the pre-charge resistor is bridged'),
  'precharge-open': fault('', 1, 'the pre-charge contactor does not pull in'),
  'polarity-reversed': fault('', 1, 'plus and minus are swapped between plug and train'),
  // converter
  'converter-overshoots': fault('percent', 8, 'current passes the set-point at the end of the ramp by this'),
  'converter-steps': fault('A', 30, 'the set-point in force jumps by this'),
  'converter-falls-short': fault('percent', 20, 'delivers this much less than the set-point in force'),
  'converter-wont-stop': fault('', 1, 'goes on at the present current whatever it is told; says delivering'),
  'converter-faulted': fault('', 1, 'the converter blocks and reports a fault'),
  'current-reverses': fault('ohm', 25, 'failed rectifier: the pack feeds back through this resistance'),
  // hard-wired relays, on a bench that has them
  'relay-test-voltage': fault(
    'V',
    935,
    'the over-voltage relay is given this voltage in place of the output',
  ),
  // sensors
  'sensor-frozen': fault(
    '',
    1,
    'sample counter stands; values freeze. Part: a role, raftN, or role:field to freeze one field only',
    'meter',
  ),
  'sensor-reads-nothing': fault('', 1, 'a role, or role:field, cannot be read', 'meter'),
  'meter-gain': fault('percent', 8, 'the independent meter reads current too high by this', 'current'),
  'voltmeter-dead': fault('', 1, 'the voltmeters of the meter read 0 V; the counter goes on', 'all'),
  'contact-sensor-blind': fault('', 1, 'the contact temperature sensor reads the air'),
  // link and host
  'link-silent': fault('', 1, 'no port gives or takes a byte'),
  'line-deaf': fault('', 1, 'the line to the devices is cut: they hear nothing, what they say arrives'),
  'link-noisy': fault('share', 0.05, 'share of frames corrupted, half as many dropped'),
  'port-lost': fault('', 1, 'one port, named as part, is dead', 'charger'),
  'journal-slow': fault('ms', 400, 'every sync of the journal takes this long'),
  'journal-full': fault('', 1, 'writes to the journal fail'),
  // rafts; part raftN or all
  'cell-too-high': fault('V', 0.12, 'the strongest cell lies this much higher', 'raft1'),
  'cell-too-low': fault('V', 0.8, 'the weakest cell lies this much lower', 'raft1'),
  'cooling-lost': fault('K/s', 0.8, 'cooling stops and the cells warm at this rate besides', 'raft1'),
  'cells-cold': fault('degC', -5, 'the cells are at this temperature', 'all'),
  'cell-spread': fault('V', 0.06, 'highest cell minus lowest cell', 'raft1'),
  'raft-silent': fault('', 1, 'a raft gives no new samples', 'raft1'),
  'raft-drops-out': fault('', 1, 'the contactors of a raft fall open', 'raft1'),
  'raft-wont-join': fault('', 1, 'a raft does not obey the join order', 'raft1'),
  'raft-isolation': fault('ohm', 20_000, 'a raft reports this isolation of its own', 'raft1'),
  'raft-alarm': fault('', 2, 'a raft raises this alarm level', 'raft1'),
  'generator-running': fault('', 1, 'the generator rafts run'),
  // heat of cable and contacts
  'cable-heats': fault('K/s', 2, 'the conductor warms at this rate whatever the current'),
  'cable-coiled': fault('factor', 2, 'thermal resistance of the cable is multiplied by this'),
  'contact-heats': fault('K/s', 2, 'both contacts warm at this rate whatever the current'),
  'contact-resistance': fault('ohm', 1.5e-3, 'one contact rises to this within 10 s', 'p'),
  // supply
  'supply-sags': fault('percent', 20, 'frequency and voltage fall by this and do not recover'),
  'supply-dips': fault('percent', 20, 'frequency and voltage fall by this for 1.5 s, or the duration given'),
  'supply-not-ready': fault('', 1, 'the supply is not ready'),
  'supply-breaker-opens': fault('', 1, 'the supply breaker opens by itself'),
  // stand
  'stop-pressed': fault('', 1, 'a stop button is pressed; with a duration it is reset afterwards'),
  'plug-pulled': fault('ms', 70, 'the plug is drawn: pilot pin breaks first, the poles part this much later'),
  'latch-wont-lock': fault('', 1, 'the bolt does not reach its end'),
  'latch-stuck': fault('', 1, 'the bolt stays where it is, locked or free'),
  'latch-slips': fault('', 1, 'the lock lets go'),
  'bond-lost': fault('ohm', 50, 'the protective bond rises to this'),
  'brake-off': fault('', 1, 'the parking brake is released'),
  'traction-live': fault('', 1, 'traction inhibit is gone'),
  'train-moves': fault('', 1, 'the train leaves its place'),
  'train-contactor-weld': fault('', 1, 'the train contactors stay closed; part p, n or both', 'both'),
  'train-live': fault('', 1, 'the train closes its contactors to the plug unasked, with a raft on its bus'),
  'train-wont-close': fault('', 1, 'the train contactors do not pull in', 'both'),
  'train-aux-says-open': fault('', 1, 'the train contactors stay closed and say open', 'both'),
  'bleeder-dead': fault(
    '',
    1,
    'a bleeder is open inside although it says on; part output, plug or both',
    'plug',
  ),
  'shoe-lifts': fault('ms', 40, 'a shoe lifts: sense contact breaks first, the pole this much later', 'p'),
  'shoe-poor-contact': fault('ohm', 2e-3, 'a shoe touches with this contact resistance', 'p'),
  'plate-exposed': fault('', 1, 'the plate cover is open'),
} as const satisfies Record<string, FaultDefinition>;

export type FaultName = keyof typeof FAULTS;
export const FAULT_NAMES = Object.keys(FAULTS) as readonly FaultName[];

/** One fault to come: `afterS` seconds after the first appearance of `phase`, or after the start. */
export interface Injection {
  readonly fault: FaultName;
  readonly phase: Phase | 'start';
  readonly afterS?: number | undefined;
  readonly magnitude?: number | undefined;
  readonly part?: string | undefined;
  /** Removed again after this; stays for ever when absent. */
  readonly durationS?: number | undefined;
}

/** One fault that was injected (or removed again). */
export interface FaultEvent {
  readonly atMs: number;
  readonly fault: FaultName;
  readonly part: string;
  readonly magnitude: number;
  readonly phase: Phase;
  readonly on: boolean;
}

/** An injection with everything filled in. */
export interface DueFault {
  readonly fault: FaultName;
  readonly magnitude: number;
  readonly part: string;
}

interface Pending {
  readonly injection: Injection;
  onMs: number;
  offMs: number;
  undo: (() => void) | null;
}

const NEVER = Number.POSITIVE_INFINITY;
/** A dip without a stated duration ends by itself. */
const DIP_S = 1.5;

/** Turns injections into moments, and calls for the effect when each has come. */
export class FaultSchedule {
  readonly #pending: Pending[];
  readonly #apply: (due: DueFault) => () => void;
  readonly log: FaultEvent[] = [];
  /** The next moment at which anything happens. */
  nextMs = NEVER;

  constructor(injections: readonly Injection[], apply: (due: DueFault) => () => void) {
    this.#apply = apply;
    this.#pending = injections.map((injection) => ({ injection, onMs: NEVER, offMs: NEVER, undo: null }));
  }

  /** A phase has appeared for the first time. */
  phaseSeen(phase: Phase | 'start', nowMs: number): void {
    for (const p of this.#pending)
      if (p.injection.phase === phase && p.onMs === NEVER && p.undo === null)
        p.onMs = nowMs + Math.round(1000 * (p.injection.afterS ?? 0));
    this.#plan();
  }

  /** Adds a fault by hand, due now; for tests and interactive runs. */
  inject(injection: Omit<Injection, 'phase'>, nowMs: number): void {
    const onMs = nowMs + Math.round(1000 * (injection.afterS ?? 0));
    this.#pending.push({ injection: { ...injection, phase: 'start' }, onMs, offMs: NEVER, undo: null });
    this.#plan();
  }

  /** Takes back what is there, and forgets what was to come. */
  clear(nowMs: number, phase: Phase): void {
    for (const { undo, injection } of this.#pending) {
      if (undo === null) continue;
      undo();
      const { fault, part = '', magnitude = 0 } = injection;
      this.log.push({ atMs: nowMs, fault, part, magnitude, phase, on: false });
    }
    this.#pending.length = 0;
    this.#plan();
  }

  run(nowMs: number, phase: Phase): void {
    for (const p of this.#pending) {
      const { fault: name, part, magnitude, durationS } = p.injection;
      const definition: FaultDefinition = FAULTS[name];
      const due = {
        fault: name,
        magnitude: magnitude ?? definition.magnitude,
        part: part ?? definition.part ?? '',
      };
      if (p.undo === null && p.onMs <= nowMs) {
        p.onMs = NEVER;
        p.undo = this.#apply(due);
        this.log.push({ atMs: nowMs, ...due, phase, on: true });
        const lastsS = durationS ?? (name === 'supply-dips' ? DIP_S : NEVER);
        p.offMs = nowMs + 1000 * lastsS;
      } else if (p.undo !== null && p.offMs <= nowMs) {
        p.offMs = NEVER;
        p.undo();
        this.log.push({ atMs: nowMs, ...due, phase, on: false });
      }
    }
    this.#plan();
  }

  #plan(): void {
    let next = NEVER;
    for (const p of this.#pending) next = Math.min(next, p.undo === null ? p.onMs : p.offMs);
    this.nextMs = next;
  }
}
