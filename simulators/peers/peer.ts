/**
 * A simulated instrument on the same world as the simulated device: what a bench owner's source, meter or power module
 * answers on its own line. Nothing here is shared with the adapters in src/instruments/: each follows its standard.
 */
import type { Phase } from '../../src/rig/roles.js';
import type { Rig } from '../../src/rig/schema.js';
import type { Plant } from '../plant.js';

/** What the host drives: one part on one port. */
export interface Hosted {
  /** The next time at which `tick` has something to do; calling it more often changes nothing. */
  readonly nextTickMs: number;
  tick(nowMs: number): void;
  /** What came over the line: a line without its end, or bytes, as the peer takes them. */
  receive(text: string): void;
}

export interface PeerPlace {
  readonly plant: Plant;
  readonly rig: Rig;
  /** Phase of the session, as the device on the other port was told it. */
  phase(): Phase;
  send(text: string): void;
  /** The line is torn off. */
  unplug(): void;
  readonly faults: readonly InstrumentFault[];
}

export interface PeerKind {
  /** Takes bytes as they come instead of lines. */
  readonly bytes: boolean;
  make(place: PeerPlace): Hosted;
}

export const INSTRUMENT_FAULTS = {
  unplugged: 'the line is torn off',
  silent: 'takes everything, answers nothing',
  'answers-twice': 'every answer comes a second time, 8 ms later',
  'answers-late': 'every answer comes 120 ms late',
  garbage: 'answers are noise',
  overload: 'readings are the mark of an overload',
  'sets-nothing': 'refuses every set-point, and says so as the standard wants',
  'wont-switch-off': 'says nothing and leaves the output on',
  exception: 'Modbus: refuses every set-point, illegal data value',
  'wrong-crc': 'Modbus: every answer has a wrong check',
} as const;
export type InstrumentFaultName = keyof typeof INSTRUMENT_FAULTS;

/** From `afterS` after the first appearance of a phase on. */
export interface InstrumentFault {
  readonly fault: InstrumentFaultName;
  readonly phase: Phase;
  readonly afterS: number;
  /** For ever when absent. */
  readonly durationS?: number;
}

/** What is wrong with a peer at the moment. */
export class PeerFaults {
  readonly #seenMs = new Map<Phase, number>();

  constructor(private readonly faults: readonly InstrumentFault[]) {}

  has(fault: InstrumentFaultName, phase: Phase, nowMs: number): boolean {
    if (this.faults.length === 0) return false;
    if (!this.#seenMs.has(phase)) this.#seenMs.set(phase, nowMs);
    return this.faults.some((f) => {
      const sinceMs = nowMs - (this.#seenMs.get(f.phase) ?? Number.NaN) - 1000 * f.afterS;
      return f.fault === fault && sinceMs >= 0 && sinceMs < 1000 * (f.durationS ?? Number.POSITIVE_INFINITY);
    });
  }
}
