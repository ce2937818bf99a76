/**
 * The charger's own hard-wired protection: relays in the coil circuit that act with no firmware, frame or supervisor.
 * A relay that has picked up or dropped out opens the circuit: converter blocked, coils of P, N and pre-charge dead,
 * until someone resets it. Only a bench that proves these relays has them; everything else must do without.
 *
 * What each sees is the thing itself, not a reading: the pilot current through its own averaging, the voltage behind
 * its own divider, the temperature under a bimetal. Settings are shares of the rig's figures, as a builder sets them.
 */
import { HARD_WIRED, type HardWiredRelay } from '../src/link/frames.js';
import type { Rig } from '../src/rig/schema.js';
import type { Parts } from './parts.js';
import { type LoopState, loopCurrentA, SOUND_LOOP } from './pilot-loop.js';

/** What is wrong with a relay: settings and times are multiplied. */
export interface RelayWeakness {
  readonly late?: number;
  readonly setting?: number;
  readonly missing?: boolean;
  /** Closes the circuit again when what it saw is gone. */
  readonly forgets?: boolean;
}
export type RelayWeaknesses = Partial<Record<HardWiredRelay, RelayWeakness>>;

const RELAYS = Object.keys(HARD_WIRED) as HardWiredRelay[];
/** From what it sees to an open contact, ms; common practice for small relays and a bimetal, no source. */
const OPERATE_MS: Readonly<Record<HardWiredRelay, number>> = {
  'stop-button': 8,
  pilot: 8,
  'over-voltage': 3,
  'over-temperature': 1000,
};
/** The pilot relay holds on the mean of its current and lets go at this share of the healthy one. */
const PILOT_LETS_GO_SHARE = 0.5;
const PILOT_AVERAGE_MS = 15;
const OVER_VOLTAGE_SHARE = 1.04;
const OVER_TEMPERATURE_K = 5;
const POINTS = 96;

/** Mean of the pilot current over one period in a standing state, A. */
function meanA(rig: NonNullable<Rig['pilot']>, state: LoopState): number {
  if (!state.sourceOn) return 0;
  let sum = 0;
  for (let k = 0; k < POINTS; k++)
    sum += loopCurrentA(
      Math.SQRT2 * rig.sourceVrms * Math.sin((2 * Math.PI * (k + 0.5)) / POINTS),
      rig,
      state,
    );
  return sum / POINTS;
}

export class HardWired {
  /** The relay that opened the circuit; null while it is closed. */
  opened: HardWiredRelay | null = null;
  readonly #since: Record<HardWiredRelay, number>;
  readonly #healthyA: number;
  #state: LoopState | null = null;
  #meanA = 0;
  #averagedA = 0;

  constructor(
    private readonly parts: Parts,
    private readonly weak: RelayWeaknesses,
    private readonly open: (relay: HardWiredRelay) => void,
    private readonly close: () => void,
  ) {
    const never = Number.NaN;
    this.#since = { 'stop-button': never, pilot: never, 'over-voltage': never, 'over-temperature': never };
    const { pilot } = parts.rig;
    this.#healthyA = pilot === undefined ? 0 : meanA(pilot, { ...SOUND_LOOP, sourceOn: true });
  }

  /** Someone has reset the relay that stands open. */
  reset(): void {
    this.opened = null;
  }

  /** Every step of 1 ms. */
  step(nowMs: number): void {
    this.#average();
    // The chain stays open until somebody resets the relay, whatever becomes of the button.
    if (this.opened !== null) this.parts.stand.chainClosed = false;
    for (const relay of RELAYS) {
      const weak = this.weak[relay];
      if (weak?.missing || !this.#sees(relay, weak?.setting ?? 1)) {
        this.#since[relay] = Number.NaN;
        if (weak?.forgets && this.opened === relay) {
          this.opened = null;
          this.close();
        }
        continue;
      }
      if (Number.isNaN(this.#since[relay])) this.#since[relay] = nowMs;
      const operates = nowMs - this.#since[relay] >= OPERATE_MS[relay] * (weak?.late ?? 1);
      if (!operates || this.opened !== null) continue;
      this.opened = relay;
      this.open(relay);
    }
  }

  #average(): void {
    const { pilot, rig } = this.parts;
    if (pilot === null || rig.pilot === undefined) return;
    if (this.#state !== pilot.state) {
      this.#state = pilot.state;
      this.#meanA = meanA(rig.pilot, pilot.state);
    }
    const averageMs = PILOT_AVERAGE_MS * (this.weak.pilot?.late ?? 1);
    this.#averagedA += (this.#meanA - this.#averagedA) / averageMs;
  }

  #sees(relay: HardWiredRelay, setting: number): boolean {
    const { stand, circuit, rig, cable, poleP, poleN, pilot, outside } = this.parts;
    switch (relay) {
      case 'stop-button':
        return stand.buttonPressed;
      case 'pilot':
        // It interlocks the coils: with none driven there is nothing to drop.
        if (pilot === null || !(poleP.coil || poleN.coil)) return false;
        return this.#averagedA < PILOT_LETS_GO_SHARE * this.#healthyA * setting;
      case 'over-voltage':
        return (
          (outside.relayTestV || circuit.outputV()) > OVER_VOLTAGE_SHARE * rig.converter.maxVoltageV * setting
        );
      case 'over-temperature': {
        const { p, n } = cable.contactC;
        return Math.max(p, n) > (rig.connection.contact.maxC + OVER_TEMPERATURE_K) * setting;
      }
    }
  }
}
