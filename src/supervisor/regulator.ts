/**
 * Current authority and set-points: the governor's figures turned into orders. Keeps which authority the
 * device has confirmed and until when; never counts on more.
 */
import type { Command } from '../../machines/vocabulary.js';
import type { CurrentLimit, Observation } from '../checks/check.js';
import type { Order } from '../rig/orders.js';
import type { Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { authority, authorityCeilingA, ordersOf } from './commands.js';
import { fixedLimits, type GovernorMode, govern, governedSlopeAPerS } from './governor.js';

/** The voltage limit follows the train this far above, so that a load dump has little to give. */
const VOLTAGE_HEADROOM = 1.05;
/** A standing set-point is said again this often. */
const REPEAT_MS = 500;

type AuthorityOrder = Extract<Order, { name: 'authority' }>;

export class Regulator {
  #mode: GovernorMode = 'off';
  #stage: 'none' | 'hold-point' | 'full' = 'none';
  #setpointA = 0;
  #voltageV = 0;
  #least: CurrentLimit = { limit: 'none given', currentA: 0 };
  #slopeAPerS = 0;
  #granted: { readonly ceilingA: number; readonly untilMs: number } = { ceilingA: 0, untilMs: 0 };
  #askedMs = Number.NEGATIVE_INFINITY;
  #said: { readonly currentA: number; readonly voltageV: number; readonly atMs: number } | null = null;
  #nowMs = 0;
  /** What a person permits at most, and what of it has come into force: it comes down at the rig's slope. */
  #personA: number;
  #personNowA: number;

  /** @param personA what the person who starts permits at most, A; Infinity when nothing was said */
  constructor(
    private readonly rig: Rig,
    personA = Number.POSITIVE_INFINITY,
  ) {
    this.#personA = personA;
    this.#personNowA = personA;
  }

  get mode(): GovernorMode {
    return this.#mode;
  }
  get setpointA(): number {
    return this.#setpointA;
  }
  get least(): CurrentLimit {
    return this.#least;
  }
  /** Ceiling of the confirmed authority; 0 once it has run out. */
  get authorityA(): number {
    return this.#nowMs < this.#granted.untilMs ? this.#granted.ceilingA : 0;
  }

  view(): Observation['governed'] {
    return {
      setpointA: this.#setpointA,
      leastLimitA: this.#least.currentA,
      slopeAPerS: this.#slopeAPerS,
      holdPointA: authorityCeilingA(this.rig, false),
    };
  }

  /** A person's own limit from now on. The caller has judged it. */
  limitByPerson(currentA: number): void {
    this.#personA = currentA;
    this.#personNowA = Math.max(currentA, Math.min(this.#personNowA, this.#setpointA));
  }

  phase(phase: Phase): void {
    if (phase === 'ramping' || phase === 'holding' || phase === 'tapering') this.#mode = 'govern';
    else if (phase === 'ramping-down' || phase === 'tripped-ramping-down') this.#mode = 'ramp-down';
    else {
      this.#mode = 'off';
      this.#stage = 'none';
    }
  }

  ordersOf(command: Command, seen: Observation | null): Order[] {
    if (command === 'authorise-hold-point') this.#stage = 'hold-point';
    if (command === 'authorise-full') this.#stage = 'full';
    const trainV = seen?.train?.value.trainV ?? Number.NaN;
    const plugV = seen?.meter?.value.plugV ?? Number.NaN;
    return ordersOf(command, this.rig, { trainV, plugV, slopeAPerS: governedSlopeAPerS(this.rig, trainV) });
  }

  sent(order: Order, nowMs: number): void {
    if (order.name === 'authority') this.#askedMs = nowMs;
  }

  /** The device has answered `done`: its life counts from when the order was sent, the unfavourable end. */
  confirmed(order: AuthorityOrder, sentMs: number): void {
    this.#granted = { ceilingA: order.args.ceilingA, untilMs: sentMs + order.args.lifeMs };
  }

  /** One step of the governor; returns what is to be ordered. */
  step(seen: Observation, limits: readonly CurrentLimit[], tripped: boolean, nowMs: number): Order[] {
    this.#nowMs = nowMs;
    const trainV = seen.train?.value.trainV ?? Number.NaN;
    if (this.#mode === 'off') {
      this.#setpointA = 0;
      this.#slopeAPerS = governedSlopeAPerS(this.rig, trainV);
      this.#said = null;
      return [];
    }
    const all = [...fixedLimits(this.rig, trainV), ...limits];
    const fallA = (this.rig.ramp.downAPerS * seen.stepMs) / 1000;
    this.#personNowA = Math.max(this.#personA, this.#personNowA - fallA);
    if (this.#personNowA < Number.POSITIVE_INFINITY)
      all.push({ limit: 'operator', currentA: this.#personNowA });
    if (this.#stage === 'hold-point')
      all.push({ limit: 'hold point', currentA: authorityCeilingA(this.rig, false) });
    // Until the device has confirmed the authority, and once it has run out, nothing above zero is said.
    if (this.authorityA === 0) all.push({ limit: 'no authority yet', currentA: 0 });
    const governed = govern({ setpointA: this.#setpointA }, this.#mode, all, trainV, seen.stepMs, this.rig);
    this.#setpointA = Math.min(governed.state.setpointA, this.authorityA);
    this.#least = governed.least;
    this.#slopeAPerS = governed.slopeAPerS;
    // The set-point first: behind a renewal it would wait for the journal, and come after newer ones.
    return [...this.#setpoint(trainV, nowMs), ...this.#renewal(tripped, nowMs)];
  }

  #renewal(tripped: boolean, nowMs: number): Order[] {
    const lifeMs = this.rig.link.authorityLifeMs;
    const sinceMs = nowMs - this.#askedMs;
    // A renewal that was held back or lost is asked for again while there is time.
    const urgent = nowMs >= this.#granted.untilMs - lifeMs / 3 && sinceMs >= REPEAT_MS;
    const due = sinceMs >= lifeMs / 2 || urgent;
    if (this.#stage === 'none' || tripped || !due || this.#granted.untilMs === 0) return [];
    this.#askedMs = nowMs;
    return [authority(this.rig, this.#stage === 'full', this.#slopeAPerS)];
  }

  /** A set-point when it has changed, or when it has not been said for a while. */
  #setpoint(trainV: number, nowMs: number): Order[] {
    if (trainV > 0) {
      const ceiling = Math.min(this.rig.converter.maxVoltageV, trainV * VOLTAGE_HEADROOM);
      if (Math.abs(ceiling - this.#voltageV) >= 2 || this.#voltageV === 0)
        this.#voltageV = Math.round(ceiling);
    }
    const currentA = Math.floor(this.#setpointA * 100) / 100;
    const said = this.#said;
    if (
      said !== null &&
      said.currentA === currentA &&
      said.voltageV === this.#voltageV &&
      nowMs - said.atMs < REPEAT_MS
    )
      return [];
    this.#said = { currentA, voltageV: this.#voltageV, atMs: nowMs };
    return [{ name: 'setpoint', args: { currentA, voltageV: this.#voltageV } }];
  }
}
