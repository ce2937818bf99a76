/**
 * What the sensors say: true values of the parts plus noise, the sample counters, and what is wrong with the
 * sensors today. Between two samples of a sensor its reading does not change.
 */
import { ISOLATION_POINT, MAX_RAFTS, type ReadingOf, type Role } from '../src/rig/roles.js';
import type { Parts } from './parts.js';
import type { SeededRandom } from './seeded-random.js';

export type PlantRole = Exclude<Role, 'device'>;
type Loose = Record<string, number>;

/** ms from sample to sample. The pilot monitor has one sample a window. */
const SAMPLE_MS: Record<PlantRole, number> = {
  converter: 1,
  meter: 1,
  loop: 0,
  isolation: 5,
  contactor: 1,
  bleeder: 10,
  latch: 5,
  berth: 10,
  train: 5,
  raft: 50,
  supply: 20,
  stop: 1,
};

const RAFT_KEYS: readonly string[] = Array.from({ length: MAX_RAFTS + 1 }, (_, raft) => `raft${raft}`);

/** A reading that is off by a factor, or stands, from a time on, while its counter goes on. */
export interface Instrument {
  readonly gain?: number;
  readonly stuck?: number;
  /** Stands at what it showed this long after power came up, ms. */
  readonly heldFromMs?: number;
}
/** By `role:field`. */
export type Instruments = Readonly<Record<string, Instrument>>;
interface Shown extends Instrument {
  readonly role: string;
  readonly field: string;
}

// Standard deviations.
const NOISE_V = 0.03;
const NOISE_POLE_V = 0.02;
const NOISE_A = 0.03;
const NOISE_SHARE = 2e-5;
const NOISE_C = 0.05;

export class Sensors {
  readonly #parts: Parts;
  readonly #random: SeededRandom;
  readonly #last = new Map<string, Loose>();
  readonly #frozen = new Set<string>();
  readonly #blind = new Set<string>();
  meterCurrentGain = 1;
  meterVoltageGain = 1;
  readonly deadVolts = { output: false, plug: false };
  /** Means over the last 10 ms, which the current transducers report; kept up to date by the world. */
  converterMeanA = 0;
  poleMeanA = 0;
  // Extremes of every step since the meter was last read.
  #currentMinA = Number.POSITIVE_INFINITY;
  #currentMaxA = Number.NEGATIVE_INFINITY;
  #outputMinV = Number.POSITIVE_INFINITY;
  #outputMaxV = Number.NEGATIVE_INFINITY;
  #plugMinV = Number.POSITIVE_INFINITY;
  #plugMaxV = Number.NEGATIVE_INFINITY;

  readonly #instruments: readonly Shown[];
  readonly #held = new Map<string, number>();

  constructor(parts: Parts, random: SeededRandom, instruments: Instruments = {}) {
    this.#parts = parts;
    this.#random = random;
    this.#instruments = Object.entries(instruments).map(([name, instrument]) => {
      const [role = '', field = ''] = name.split(':');
      return { role, field, ...instrument };
    });
  }

  /** Every step of 1 ms. */
  track(currentA: number, outputV: number, plugV: number): void {
    if (currentA < this.#currentMinA) this.#currentMinA = currentA;
    if (currentA > this.#currentMaxA) this.#currentMaxA = currentA;
    if (outputV < this.#outputMinV) this.#outputMinV = outputV;
    if (outputV > this.#outputMaxV) this.#outputMaxV = outputV;
    if (plugV < this.#plugMinV) this.#plugMinV = plugV;
    if (plugV > this.#plugMaxV) this.#plugMaxV = plugV;
  }

  /** `part`: a role or raftN; with `:field` only that field (the counter stands all the same). */
  freeze(part: string, on: boolean): void {
    const key = keyOf(part);
    if (on) this.#frozen.add(key);
    else this.#frozen.delete(key);
  }

  blind(part: string, on: boolean): void {
    const key = keyOf(part);
    if (on) this.#blind.add(key);
    else this.#blind.delete(key);
  }

  read<R extends PlantRole>(role: R, raft: number, nowMs: number): ReadingOf<R> {
    const key = role === 'raft' ? (RAFT_KEYS[raft] ?? `raft${raft}`) : role;
    const last = this.#last.get(key);
    // Nobody changes a reading once it is given: it is handed out as it is, not copied for each who asks.
    if (last !== undefined && this.#frozen.has(key)) return last as unknown as ReadingOf<R>;
    const counter = this.#counter(role, nowMs);
    if (last !== undefined && last.sample === counter) return last as unknown as ReadingOf<R>;
    const reading = this.#take(role, raft, nowMs) as unknown as Loose;
    reading.sample = counter;
    for (const weak of this.#instruments) if (weak.role === role) this.#show(weak, reading, nowMs);
    this.#spoil(key, reading, last);
    this.#last.set(key, reading);
    return reading as unknown as ReadingOf<R>;
  }

  #counter(role: PlantRole, nowMs: number): number {
    const count =
      role === 'loop' && this.#parts.pilot !== null
        ? this.#parts.pilot.windowAt(nowMs)
        : Math.floor(nowMs / (SAMPLE_MS[role] || 20));
    return count & 0xffff;
  }

  #show({ role, field, gain, stuck, heldFromMs }: Shown, reading: Loose, nowMs: number): void {
    const name = `${role}:${field}`;
    const held = this.#held.get(name);
    const value = stuck ?? held ?? (reading[field] as number) * (gain ?? 1);
    reading[field] = value;
    if (heldFromMs !== undefined && nowMs >= heldFromMs) this.#held.set(name, value);
  }

  #spoil(key: string, reading: Loose, last: Loose | undefined): void {
    for (const entry of this.#frozen) {
      const [part, field] = entry.split(':');
      if (part !== key || field === undefined || last === undefined) continue;
      if (last[field] !== undefined) reading[field] = last[field];
      // A device whose sensor stands must not advance the counter of that role.
      reading.sample = last.sample!;
    }
    for (const entry of this.#blind) {
      const [part, field] = entry.split(':');
      if (part !== key) continue;
      for (const name of Object.keys(reading))
        if (name !== 'sample' && (field === undefined || field === name)) reading[name] = Number.NaN;
    }
  }

  #take(role: PlantRole, raft: number, nowMs: number): { [R in PlantRole]: ReadingOf<R> }[PlantRole] {
    switch (role) {
      case 'converter':
        return this.#converter();
      case 'meter':
        return this.#meter();
      case 'loop':
        return this.#loop(nowMs);
      case 'isolation':
        return this.#isolation();
      case 'contactor':
        return this.#contactor();
      case 'bleeder':
        return this.#bleeder();
      case 'latch':
        return this.#latch();
      case 'berth':
        return this.#berth();
      case 'train':
        return this.#train();
      case 'raft':
        return this.#raft(raft);
      case 'supply':
        return this.#supply();
      case 'stop':
        return this.#stop();
    }
  }

  #volts(trueV: number, noiseV = NOISE_V): number {
    return trueV + this.#random.gaussian() * noiseV;
  }

  #amps(trueA: number): number {
    return trueA + this.#random.gaussian() * (NOISE_A + NOISE_SHARE * Math.abs(trueA));
  }

  #celsius(trueC: number): number {
    return trueC + this.#random.gaussian() * NOISE_C;
  }

  #converter(): ReadingOf<'converter'> {
    const { converter, circuit } = this.#parts;
    return {
      sample: 0,
      state: converter.state,
      outputV: this.#volts(circuit.outputV()),
      outputA: this.#amps(this.converterMeanA),
      appliedSetpointA: converter.referenceA,
      appliedLimitV: converter.orderedV,
      temperatureC: this.#celsius(converter.heatSinkC),
    };
  }

  #meter(): ReadingOf<'meter'> {
    const { circuit, cable } = this.#parts;
    const gain = this.meterCurrentGain;
    // Read before the first step: there is nothing but the present.
    if (this.#currentMinA > this.#currentMaxA)
      this.track(circuit.poleA('p'), circuit.outputV(), circuit.plugV());
    const meanA = Math.min(Math.max(this.poleMeanA, this.#currentMinA), this.#currentMaxA);
    const noiseA = this.#amps(meanA) - meanA;
    const out = this.deadVolts.output ? 0 : this.meterVoltageGain;
    const plug = this.deadVolts.plug ? 0 : this.meterVoltageGain;
    const outputV = circuit.outputV();
    const plugV = circuit.plugV();
    const noiseOutV = this.#volts(0);
    const noisePlugV = this.#volts(0);
    const reading = {
      sample: 0,
      currentA: (meanA + noiseA) * gain,
      currentMinA: (Math.min(this.#currentMinA, meanA) + noiseA) * gain,
      currentMaxA: (Math.max(this.#currentMaxA, meanA) + noiseA) * gain,
      outputV: (outputV + noiseOutV) * out,
      outputMinV: (Math.min(this.#outputMinV, outputV) + noiseOutV) * out,
      outputMaxV: (Math.max(this.#outputMaxV, outputV) + noiseOutV) * out,
      plugV: (plugV + noisePlugV) * plug,
      plugMinV: (Math.min(this.#plugMinV, plugV) + noisePlugV) * plug,
      plugMaxV: (Math.max(this.#plugMaxV, plugV) + noisePlugV) * plug,
      outputPositiveV: this.#volts(circuit.poleVolts('charger', 'p')) * out,
      outputNegativeV: this.#volts(circuit.poleVolts('charger', 'n')) * out,
      plugPositiveV: this.#volts(circuit.poleVolts('cable', 'p')) * plug,
      plugNegativeV: this.#volts(circuit.poleVolts('cable', 'n')) * plug,
      cableC: this.#celsius(cable.conductorC),
      contactC: this.#celsius(cable.sensedContactC()),
    };
    this.#currentMinA = Number.POSITIVE_INFINITY;
    this.#currentMaxA = Number.NEGATIVE_INFINITY;
    this.#outputMinV = Number.POSITIVE_INFINITY;
    this.#outputMaxV = Number.NEGATIVE_INFINITY;
    this.#plugMinV = Number.POSITIVE_INFINITY;
    this.#plugMaxV = Number.NEGATIVE_INFINITY;
    return reading;
  }

  #loop(nowMs: number): ReadingOf<'loop'> {
    const pilot = this.#parts.pilot;
    if (pilot === null) {
      const none = Number.NaN;
      return { sample: 0, meanA: none, rmsA: none, peakPositiveA: none, peakNegativeA: none, pilotOn: 0 };
    }
    const { meanA, rmsA, peakPositiveA, peakNegativeA } = pilot.features(nowMs);
    const pilotOn = Number(pilot.state.sourceOn);
    return { sample: 0, meanA, rmsA, peakPositiveA, peakNegativeA, pilotOn };
  }

  #isolation(): ReadingOf<'isolation'> {
    const device = this.#parts.isolation;
    const connected = device.point !== ISOLATION_POINT.off;
    return {
      sample: 0,
      point: device.point,
      resistor: device.resistor,
      injecting: Number(device.injecting),
      positiveV: connected ? this.#volts(device.poleV('p'), NOISE_POLE_V) : Number.NaN,
      negativeV: connected ? this.#volts(device.poleV('n'), NOISE_POLE_V) : Number.NaN,
    };
  }

  #contactor(): ReadingOf<'contactor'> {
    const { poleP, poleN, polePre } = this.#parts;
    return {
      sample: 0,
      closedP: Number(poleP.aux),
      closedN: Number(poleN.aux),
      closedPre: Number(polePre.aux),
      coilP: Number(poleP.coil),
      coilN: Number(poleN.coil),
      coilPre: Number(polePre.coil),
    };
  }

  #bleeder(): ReadingOf<'bleeder'> {
    const { on, temperatureC } = this.#parts.bleeders;
    return { sample: 0, outputOn: Number(on.output), plugOn: Number(on.plug), temperatureC };
  }

  #latch(): ReadingOf<'latch'> {
    const { stand, rig } = this.#parts;
    const shoes = rig.connection.kind === 'shoes';
    return {
      sample: 0,
      seated: Number(stand.seated),
      locked: Number(stand.locked),
      senseP: shoes ? Number(stand.shoeSense.p) : Number.NaN,
      senseN: shoes ? Number(stand.shoeSense.n) : Number.NaN,
      plateCovered: shoes ? Number(stand.plateCovered) : Number.NaN,
    };
  }

  #berth(): ReadingOf<'berth'> {
    const { stand } = this.#parts;
    return {
      sample: 0,
      atStand: Number(stand.atStand),
      brakeOn: Number(stand.brakeOn),
      tractionInhibited: Number(stand.tractionInhibited),
      bondOhm: Math.max(0, stand.bondOhm * (1 + this.#random.gaussian() * 0.02)),
    };
  }

  #train(): ReadingOf<'train'> {
    const { train, circuit } = this.#parts;
    return {
      sample: 0,
      closedP: Number(train.p.aux),
      closedN: Number(train.n.aux),
      trainV: this.#volts(circuit.trainV()),
    };
  }

  #raft(number: number): ReadingOf<'raft'> {
    const raft = this.#parts.rafts[number - 1];
    if (raft === undefined) throw new RangeError(`no raft ${number}`);
    if (raft.kind === 'generator') return generatorReading(raft.generatorRunning, raft.isolationOhm);
    const noiseCellV = this.#random.gaussian() * 0.0003;
    return {
      sample: 0,
      packV: this.#volts(raft.packV()),
      packA: raft.stage === 'parted' ? 0 : this.#amps(raft.packA),
      joined: Number(raft.stage === 'joined'),
      isolationOhm: raft.isolationOhm,
      cellMinV: raft.cellMinV() + noiseCellV,
      cellMaxV: raft.cellMaxV() + noiseCellV,
      cellMinC: this.#celsius(raft.cellMinC()),
      cellMaxC: this.#celsius(raft.cellMaxC()),
      soc: raft.reportedSoc(),
      allowedA: raft.unit.allowedA,
      alarm: raft.unit.alarm,
      generatorRunning: Number.NaN,
    };
  }

  #supply(): ReadingOf<'supply'> {
    const { supply } = this.#parts;
    return {
      sample: 0,
      ready: Number(supply.ready),
      breakerClosed: Number(supply.breakerClosed),
      frequencyHz: supply.frequencyHz() + this.#random.gaussian() * 0.005,
      voltageV: this.#volts(supply.voltageV(), 0.1),
      powerW: supply.powerW,
    };
  }

  #stop(): ReadingOf<'stop'> {
    const { stand } = this.#parts;
    return { sample: 0, chainClosed: Number(stand.chainClosed), buttonPressed: Number(stand.buttonPressed) };
  }
}

/** `raft-2` and `raft2` are the same. */
function keyOf(part: string): string {
  return part.replace(/^raft-(\d)/, 'raft$1');
}

/** A generator raft has no cells and is never joined for charging: what it has not got cannot be read. */
function generatorReading(running: boolean, isolationOhm: number): ReadingOf<'raft'> {
  const none = Number.NaN;
  return {
    sample: 0,
    packV: none,
    packA: 0,
    joined: 0,
    isolationOhm,
    cellMinV: none,
    cellMaxV: none,
    cellMinC: none,
    cellMaxC: none,
    soc: none,
    allowedA: 0,
    alarm: 0,
    generatorRunning: Number(running),
  };
}
