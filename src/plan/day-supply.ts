/**
 * What feeds the trains of a day, simulated forward in short bins: a trackside store that follows its plan, the grid
 * and renewables behind it, and engine-driven sets. What trains draw is entered as they come; the store is moved on no
 * further than the last arrival.
 */
import type { Rig } from '../rig/schema.js';
import { priceAt, renewableKw } from './day-files.js';
import type { DayInput } from './day-input.js';
import type { Slice } from './stop-source.js';
import type { DayStep } from './store-plan.js';

export const BIN_S = 10;
export type Feed = Rig['supply']['kind'];

/** How the store is to be charged. */
export interface Schedule {
  /** By step, at the store's terminals, kWh. */
  readonly chargeKwh: readonly number[];
  /** At the beginning of each step; what is wanting is made up for as soon as the peak permits. */
  readonly levelKwh: readonly number[];
  /** Grid power that making up may reach, mean of a step. */
  readonly peakKw: number;
}

export interface SupplyDay {
  readonly gridKwh: number;
  readonly renewableKwh: number;
  readonly offeredKwh: number;
  readonly fuelKwh: number;
  readonly lossKwh: { readonly charging: number; readonly discharging: number; readonly standing: number };
  readonly storeChangeKwh: number;
  readonly lowestKwh: number;
  readonly highestKwh: number;
  readonly drawnKwh: number;
  /** Highest mean of a step, and of a bin. */
  readonly peakStepKw: number;
  readonly peakKw: number;
  /** By step. */
  readonly gridKw: readonly number[];
  readonly renewableKw: readonly number[];
  readonly chargeKw: readonly number[];
  readonly trainsKw: readonly number[];
  /** At the beginning of each step, and at the very end. */
  readonly levelKwh: readonly number[];
}

interface State {
  bin: number;
  levelKwh: number;
  chargeKw: number;
}

export class DaySupply {
  readonly #input: DayInput;
  readonly #schedule: Schedule | null;
  readonly #bins: number;
  readonly #perStep: number;
  /** kWh by bin. */
  readonly #drawn: Record<Feed, Float64Array>;
  readonly #grid: Float64Array;
  readonly #used: Float64Array;
  readonly #charged: Float64Array;
  readonly #level: Float64Array;
  readonly #offeredKw: readonly number[];
  readonly #loss = { charging: 0, discharging: 0, standing: 0 };
  readonly #state: State;
  #lowestKwh: number;
  #highestKwh: number;

  /** @param schedule null: nothing is charged, and nobody asks what is in the store */
  constructor(input: DayInput, schedule: Schedule | null) {
    const { day, store } = input;
    this.#input = input;
    this.#schedule = schedule;
    this.#bins = Math.round((day.until - day.from) / BIN_S);
    this.#perStep = Math.round(day.stepS / BIN_S);
    const bins = (): Float64Array => new Float64Array(this.#bins);
    this.#drawn = { store: bins(), feed: bins(), 'engine-set': bins() };
    [this.#grid, this.#used, this.#charged] = [bins(), bins(), bins()];
    this.#level = new Float64Array(this.#bins + 1);
    this.#offeredKw = offeredOf(input);
    this.#state = { bin: 0, levelKwh: store.startShare * store.capacityKwh, chargeKw: 0 };
    this.#level[0] = this.#state.levelKwh;
    this.#lowestKwh = this.#state.levelKwh;
    this.#highestKwh = this.#state.levelKwh;
  }

  /** @param sign −1 takes it back */
  enter(feed: Feed, startS: number, slices: readonly Slice[], sign = 1): void {
    const bins = this.#drawn[feed];
    for (const { fromS, toS, kwh } of slices) {
      const from = (startS + fromS - this.#input.day.from) / BIN_S;
      const to = (startS + toS - this.#input.day.from) / BIN_S;
      for (let b = Math.floor(from); b < to && b < this.#bins; b++)
        bins[b]! += (sign * kwh * (Math.min(to, b + 1) - Math.max(from, b))) / (to - from);
    }
  }

  /** What a supply can still give between two times, kW. */
  roomKw(feed: Feed, fromS: number, toS: number): number {
    if (feed === 'engine-set') return Number.POSITIVE_INFINITY;
    const { store, tariff } = this.#input;
    const mostKw = feed === 'store' ? store.maxDischargeKw : tariff.maxGridKw;
    let takenKwh = 0;
    for (let b = this.#binOf(fromS); b < Math.min(this.#bins, this.#binOf(toS) + 1); b++)
      takenKwh = Math.max(takenKwh, this.#drawn[feed][b]!);
    return mostKw - (takenKwh * 3600) / BIN_S;
  }

  /** Least of what is above the floor until a time, with all that is entered and charged as planned. */
  spareKwh(untilS: number): number {
    const { store } = this.#input;
    const ahead = { ...this.#state };
    let least = Number.POSITIVE_INFINITY;
    const end = Math.min(this.#bins, this.#binOf(untilS) + 1);
    while (ahead.bin < end) {
      this.#move(ahead, false);
      least = Math.min(least, ahead.levelKwh - store.floorShare * store.capacityKwh);
    }
    return least;
  }

  advanceTo(seconds: number): void {
    const end = Math.min(this.#bins, this.#binOf(seconds));
    while (this.#state.bin < end) this.#move(this.#state, true);
  }

  /** What the plan of the store is made for. */
  steps(): DayStep[] {
    const { day, tariff } = this.#input;
    return this.#offeredKw.map((offeredKw, t) => {
      const directKwh = this.#ofStep(this.#drawn.feed, t);
      const mostKwh = Math.max(...this.#drawn.feed.subarray(t * this.#perStep, (t + 1) * this.#perStep));
      return {
        pricePerKwh: priceAt(tariff, day.from + t * day.stepS),
        renewableKwh: (offeredKw * day.stepS) / 3600,
        drawnKwh: this.#ofStep(this.#drawn.store, t),
        directKwh,
        directAboveMeanKw: Math.max(0, (mostKwh * 3600) / BIN_S - (directKwh * 3600) / day.stepS),
      };
    });
  }

  finish(): SupplyDay {
    this.advanceTo(this.#input.day.until);
    const { day } = this.#input;
    const kw = (...of: readonly Float64Array[]): number[] =>
      this.#offeredKw.map(
        (_, t) => (of.reduce((sum, bins) => sum + this.#ofStep(bins, t), 0) * 3600) / day.stepS,
      );
    const gridKw = kw(this.#grid);
    const { store, feed, 'engine-set': engine } = this.#drawn;
    return {
      ...{ gridKwh: total(this.#grid), renewableKwh: total(this.#used), fuelKwh: total(engine) },
      offeredKwh: this.#offeredKw.reduce((sum, offered) => sum + (offered * day.stepS) / 3600, 0),
      ...{ lossKwh: this.#loss, lowestKwh: this.#lowestKwh, highestKwh: this.#highestKwh },
      ...{ drawnKwh: total(store), storeChangeKwh: this.#state.levelKwh - this.#level[0]! },
      ...{ gridKw, renewableKw: kw(this.#used), chargeKw: kw(this.#charged) },
      trainsKw: kw(store, feed, engine),
      ...{ peakStepKw: Math.max(...gridKw), peakKw: (Math.max(...this.#grid) * 3600) / BIN_S },
      levelKwh: [...this.#level].filter((_, b) => b % this.#perStep === 0),
    };
  }

  #binOf(seconds: number): number {
    return Math.floor((seconds - this.#input.day.from) / BIN_S);
  }

  #ofStep(bins: Float64Array, t: number): number {
    return total(bins.subarray(t * this.#perStep, (t + 1) * this.#perStep));
  }

  /** One bin. */
  #move(state: State, keeps: boolean): void {
    const { store, tariff } = this.#input;
    const { bin } = state;
    const hours = BIN_S / 3600;
    const step = Math.floor(bin / this.#perStep);
    if (bin % this.#perStep === 0) state.chargeKw = this.#chargeKw(step, state.levelKwh);
    const offeredKw = this.#offeredKw[step]!;
    const directKw = this.#drawn.feed[bin]! / hours;
    const roomKwh = store.ceilingShare * store.capacityKwh - state.levelKwh;
    const chargeKw = Math.max(
      0,
      Math.min(
        state.chargeKw,
        roomKwh / store.chargeEfficiencyShare / hours,
        tariff.maxGridKw + offeredKw - directKw,
      ),
    );
    const gridKw = Math.max(0, chargeKw + directKw - offeredKw);
    const drawnKwh = this.#drawn.store[bin]!;
    const standingKwh = state.levelKwh > 0 ? store.standingLossKw * hours : 0;
    state.levelKwh +=
      chargeKw * hours * store.chargeEfficiencyShare -
      drawnKwh / store.dischargeEfficiencyShare -
      standingKwh;
    state.bin += 1;
    if (!keeps) return;
    this.#grid[bin] = gridKw * hours;
    this.#used[bin] = (chargeKw + directKw - gridKw) * hours;
    this.#charged[bin] = chargeKw * hours;
    this.#level[bin + 1] = state.levelKwh;
    this.#loss.charging += chargeKw * hours * (1 - store.chargeEfficiencyShare);
    this.#loss.discharging += drawnKwh * (1 / store.dischargeEfficiencyShare - 1);
    this.#loss.standing += standingKwh;
    this.#lowestKwh = Math.min(this.#lowestKwh, state.levelKwh);
    this.#highestKwh = Math.max(this.#highestKwh, state.levelKwh);
  }

  /** As planned, and what is wanting in the store, up to the peak that is paid for anyway. */
  #chargeKw(step: number, levelKwh: number): number {
    if (this.#schedule === null) return 0;
    const { store, day } = this.#input;
    const { chargeKwh, levelKwh: planned, peakKw } = this.#schedule;
    const hours = day.stepS / 3600;
    const wantingKwh = (planned[step]! - levelKwh) / store.chargeEfficiencyShare;
    const plannedKw = chargeKwh[step]! / hours;
    const directKw = this.#ofStep(this.#drawn.feed, step) / hours;
    const underPeakKw = Math.max(plannedKw, peakKw + this.#offeredKw[step]! - directKw);
    return Math.max(0, Math.min(plannedKw + wantingKwh / hours, store.maxChargeKw, underPeakKw));
  }
}

const total = (bins: Float64Array): number => bins.reduce((sum, kwh) => sum + kwh, 0);

/** Mean of what the two ends of a step offer: what comes and goes within one is not planned with. */
function offeredOf({ day, renewables }: DayInput): number[] {
  const count = Math.round((day.until - day.from) / day.stepS);
  return Array.from({ length: count }, (_, t) => {
    const fromS = day.from + t * day.stepS;
    return (renewableKw(renewables, fromS) + renewableKw(renewables, fromS + day.stepS)) / 2;
  });
}
