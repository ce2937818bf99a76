/**
 * The seam between the simulated device's firmware and the physics it sits on. The firmware knows orders and
 * reports; the plant knows volts, amps, coils, relays, sensors and what is wrong with them today.
 */
import type { TagKind } from '../src/link/frames.js';
import type { Order } from '../src/rig/orders.js';
import type { Phase, ReadingOf, Role } from '../src/rig/roles.js';

/** Something a device times by its own clock: its mark input, the contact of a relay, an auxiliary. */
export interface PlantEvent {
  readonly atMs: number;
  readonly kind: TagKind;
  readonly value: number;
}

export interface Plant {
  /** Simulated time reached, ms. */
  readonly nowMs: number;
  /** Integrates to `tMs` in steps of 1 ms; never goes back. */
  advanceTo(tMs: number): void;
  /** Carries out a permitted order physically (drives a coil, switches a relay, sets a reference). */
  apply(order: Order): void;
  /** The phase the supervisor says it is in; faults are timed from its first appearance. */
  setPhase(phase: Phase): void;
  /**
   * What the sensors of a role say now, sample counter and sensor faults included. `raft` counts from 1.
   * Reading the meter takes its minimum and maximum since the last reading and starts them afresh.
   */
  read<R extends Exclude<Role, 'device'>>(role: R, raft?: number): ReadingOf<R>;
  /** Pilot current samples of the last window, A, and their spacing, s. */
  pilotWaveform(): { readonly samplesA: Float64Array; readonly spacingS: number };
  /** What happened since it was last asked, oldest first; for the one port that serves contactors. */
  takeEvents?(): readonly PlantEvent[];
  /** True while a fault holds the named port dead (no bytes out, none taken in). */
  portDead(port: string): boolean;
  /** Where an instrument may stand in the place of the train: holds these volts, or is off. */
  holdTrain?(volts: number | null): void;
}
