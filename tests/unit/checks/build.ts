/** A healthy scene of the depot rig that a test spoils, and a check run on it report by report. */
import type { Code } from '../../../src/checks/catalogue.js';
import type { Check, CheckResult, Finding, Observation, Ordered, Seen } from '../../../src/checks/check.js';
import { loadRig } from '../../../src/rig/load.js';
import { type Phase, type ReadingOf, ROLES, type Role } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';

type Open<T> = { -readonly [K in keyof T]: T[K] };
type Group = keyof Ordered['sinceMs'];
const NEVER = Number.POSITIVE_INFINITY;

export const depot: Rig = loadRig('depot-cable').rig;
export const shoes: Rig = loadRig('terminus-shoes').rig;
export const yard: Rig = loadRig('yard-precharge').rig;
export const generatorYard: Rig = loadRig('yard-generator').rig;

const raft = (): Open<ReadingOf<'raft'>> => ({
  sample: 0,
  packV: 720,
  packA: 0,
  joined: 0,
  isolationOhm: 2e6,
  cellMinV: 3.745,
  cellMaxV: 3.755,
  cellMinC: 20,
  cellMaxC: 23,
  soc: 0.55,
  allowedA: 120,
  alarm: 0,
  generatorRunning: Number.NaN,
});

export class Scene {
  nowMs = 10_000;
  phase: Phase = 'parked';
  sessionMs = 0;
  energyToBatteryKwh = 0;
  #phaseAtMs = 10_000;
  /** Roles whose counter stands. */
  readonly frozen = new Set<Role | `raft${number}`>();
  readonly portSilentMs: number[];
  readonly governed = { setpointA: 0, leastLimitA: 300, slopeAPerS: 20, holdPointA: 30 };
  readonly wish = { targetSoc: 0.8, targetEnergyKwh: Number.NaN, maxS: NEVER, maxCurrentA: NEVER };
  readonly journal = { lagMs: 0, failed: false };
  readonly ordered: Open<Omit<Ordered, 'sinceMs'>>;
  readonly device: Open<ReadingOf<'device'>>[];
  readonly converter: Open<ReadingOf<'converter'>> = {
    sample: 0,
    state: 0,
    outputV: 0,
    outputA: 0,
    appliedSetpointA: 0,
    appliedLimitV: 0,
    temperatureC: 30,
  };
  readonly meter: Open<ReadingOf<'meter'>> = {
    sample: 0,
    currentA: 0,
    currentMinA: 0,
    currentMaxA: 0,
    outputV: 0,
    outputMinV: 0,
    outputMaxV: 0,
    plugV: 0,
    plugMinV: 0,
    plugMaxV: 0,
    outputPositiveV: 0,
    outputNegativeV: 0,
    plugPositiveV: 0,
    plugNegativeV: 0,
    cableC: 25,
    contactC: 25,
  };
  /** 12 V r.m.s., 1000 Ω, 0.7 V diode as in W14, with 10 Ω of core instead of 45. */
  readonly loop: Open<ReadingOf<'loop'>> = {
    sample: 0,
    meanA: 5.0064e-3,
    rmsA: 7.9627e-3,
    peakPositiveA: 16.11e-3,
    peakNegativeA: 0,
    pilotOn: 1,
  };
  readonly isolation: Open<ReadingOf<'isolation'>> = {
    sample: 0,
    point: 0,
    resistor: 0,
    injecting: 0,
    positiveV: Number.NaN,
    negativeV: Number.NaN,
  };
  readonly contactor = { sample: 0, closedP: 0, closedN: 0, closedPre: 0, coilP: 0, coilN: 0, coilPre: 0 };
  readonly bleeder = { sample: 0, outputOn: 0, plugOn: 0, temperatureC: 20 };
  readonly latch = { sample: 0, seated: 1, locked: 0, senseP: 1, senseN: 1, plateCovered: 1 };
  readonly berth = { sample: 0, atStand: 1, brakeOn: 1, tractionInhibited: 1, bondOhm: 0.02 };
  readonly train = { sample: 0, closedP: 0, closedN: 0, trainV: 0 };
  readonly rafts: Open<ReadingOf<'raft'>>[];
  readonly supply = { sample: 0, ready: 1, breakerClosed: 1, frequencyHz: 51.5, voltageV: 400, powerW: 0 };
  readonly stop = { sample: 0, chainClosed: 1, buttonPressed: 0 };
  readonly #orderedAtMs: Partial<Record<Group, number>> = {};
  readonly #sampleAtMs = new Map<string, number>();

  constructor(readonly rig: Rig = depot) {
    this.portSilentMs = rig.link.ports.map(() => 0);
    this.device = rig.link.ports.map(() => ({
      sample: 0,
      clockMs: 0,
      latched: 0,
      madeSafe: 0,
      rejectedFrames: 0,
    }));
    this.rafts = rig.battery.rafts.map(raft);
    this.ordered = {
      converterEnabled: false,
      setpointA: 0,
      voltageLimitV: 0,
      closedP: false,
      closedN: false,
      closedPre: false,
      trainClosed: false,
      raftJoined: rig.battery.rafts.map(() => false),
      bleedOutput: false,
      bleedPlug: false,
      locked: false,
      pilotOn: false,
      isolationPoint: 0,
      isolationResistor: 0,
    };
  }

  enter(phase: Phase): this {
    this.phase = phase;
    this.#phaseAtMs = this.nowMs;
    return this;
  }

  order(group: Group, change: Partial<Omit<Ordered, 'sinceMs'>> = {}): this {
    Object.assign(this.ordered, change);
    this.#orderedAtMs[group] = this.nowMs;
    return this;
  }

  /** Volts of one side, with its extremes and balanced poles. */
  volts(side: 'output' | 'plug', volts: number, positiveShare = 0.5): this {
    const m = this.meter;
    if (side === 'output') {
      Object.assign(m, { outputV: volts, outputMinV: volts, outputMaxV: volts });
      m.outputPositiveV = volts * positiveShare;
      m.outputNegativeV = -volts * (1 - positiveShare);
    } else {
      Object.assign(m, { plugV: volts, plugMinV: volts, plugMaxV: volts });
      m.plugPositiveV = volts * positiveShare;
      m.plugNegativeV = -volts * (1 - positiveShare);
    }
    return this;
  }

  /** The same current by every instrument. */
  amps(currentA: number): this {
    const joined = this.rafts.filter((r) => r.joined === 1);
    Object.assign(this.meter, { currentA, currentMinA: currentA, currentMaxA: currentA });
    this.converter.outputA = currentA;
    this.converter.appliedSetpointA = currentA;
    for (const r of joined) r.packA = currentA / joined.length;
    return this;
  }

  /** Joined, matched, closed, under this current. */
  charging(currentA: number, phase: Phase = 'holding'): this {
    this.enter(phase);
    this.order('latch', { locked: true }).order('pilot', { pilotOn: true });
    this.order('train', { trainClosed: true }).order('rafts', { raftJoined: this.rafts.map(() => true) });
    this.order('contactorP', { closedP: true }).order('contactorN', { closedN: true });
    this.order('converter', { converterEnabled: true });
    this.latch.locked = 1;
    Object.assign(this.contactor, { closedP: 1, closedN: 1, coilP: 1, coilN: 1 });
    Object.assign(this.train, { closedP: 1, closedN: 1, trainV: 720 });
    for (const r of this.rafts) r.joined = 1;
    this.volts('output', 720).volts('plug', 720);
    Object.assign(this.converter, { state: 2, outputV: 720, appliedLimitV: 790 });
    this.governed.setpointA = currentA;
    return this.amps(currentA);
  }

  /** Time moves on and a report brings a new sample of every role that is not frozen. */
  report(ms = this.rig.link.periodMs): Observation {
    this.nowMs += ms;
    for (const d of this.device) d.clockMs = this.nowMs;
    return this.#observe(ms, true);
  }

  /** Time moves on, nothing arrives. */
  tick(ms: number): Observation {
    this.nowMs += ms;
    return this.#observe(ms, false);
  }

  #observe(stepMs: number, isReport: boolean): Observation {
    const { nowMs } = this;
    const seen = <R extends Role>(name: R | `raft${number}`, value: object): Seen<R> => {
      const isNew = isReport && !this.frozen.has(name as Role);
      if (isNew) this.#sampleAtMs.set(name, nowMs);
      const ageMs = nowMs - (this.#sampleAtMs.get(name) ?? Number.NEGATIVE_INFINITY);
      return { value: { ...value } as unknown as ReadingOf<R>, ageMs, isNew };
    };
    const sinceMs = {} as Record<Group, number>;
    const groups: Group[] = [
      'converter',
      'setpoint',
      'contactorP',
      'contactorN',
      'pre',
      'train',
      'rafts',
      'bleeder',
      'latch',
      'pilot',
      'isolation',
      'makeSafe',
    ];
    const rafts = this.rafts.map((r, i) => seen<'raft'>(`raft${i + 1}`, r));
    for (const g of groups) sinceMs[g] = nowMs - (this.#orderedAtMs[g] ?? Number.NEGATIVE_INFINITY);
    return {
      nowMs,
      stepMs,
      phase: this.phase,
      phaseMs: nowMs - this.#phaseAtMs,
      trippedIn: null,
      device: this.device.map((d) => seen<'device'>('device', d)),
      converter: seen('converter', this.converter),
      meter: seen('meter', this.meter),
      loop: seen('loop', this.loop),
      isolation: seen('isolation', this.isolation),
      contactor: seen('contactor', this.contactor),
      bleeder: seen('bleeder', this.bleeder),
      latch: seen('latch', this.latch),
      berth: seen('berth', this.berth),
      train: seen('train', this.train),
      rafts,
      joined: rafts.flatMap((r, i) => (r.value.joined === 1 ? [i] : [])),
      supply: seen('supply', this.supply),
      stop: seen('stop', this.stop),
      ordered: { ...this.ordered, sinceMs },
      wish: { ...this.wish },
      governed: { ...this.governed },
      portSilentMs: [...this.portSilentMs],
      journal: { ...this.journal },
      energyToBatteryKwh: this.energyToBatteryKwh,
      sessionMs: this.sessionMs,
    };
  }
}

/** Units a figure of a finding may have; none belongs to flags and states, which are told by small whole numbers. */
const UNITS = new Set(['A', 'V', 'A/s', 's', 'ms', 'Hz', 'ohm', 'degC', 'W', 'share', 'J', '%', 'mohm', 'K']);
const FLAGS = new Set([0, 1, 2, 3]);

/** What people read of any finding, whatever its verdict: a code of this check, and a setting they can look up. */
function wellStated(
  check: Pick<Check<never>, 'name' | 'codes'>,
  found: Finding,
  { rig, nowMs }: Scene,
): void {
  const { code, setting, unit, limit, sinceMs } = found;
  const wrong = (what: string) => new Error(`${check.name} states ${code} with ${what}`);
  if (!check.codes.includes(code)) throw wrong('a code it does not declare');
  if (!inRig(rig, setting) && !inReadings(setting))
    throw wrong(`the setting '${setting}', unknown to the rig`);
  if (unit === '' ? !FLAGS.has(limit) : !UNITS.has(unit)) throw wrong(`the unit '${unit}' for ${limit}`);
  if (!(sinceMs <= nowMs)) throw wrong(`sinceMs ${sinceMs}, which lies ahead`);
}

function inRig(rig: Rig, setting: string): boolean {
  let node: unknown = rig;
  for (const key of setting.split('.')) {
    if (typeof node !== 'object' || node === null || !(key in node)) return false;
    node = (node as Record<string, unknown>)[key];
  }
  return true;
}

/** A flag of a device is held against what it must be, not against the rig. */
function inReadings(setting: string): boolean {
  const [role = '', field = ''] = setting.split('.');
  return role in ROLES && ROLES[role as Role].fields.some(({ name }) => name === field);
}

/** A check with its state, fed by a scene. */
export class Run<S> {
  state: S;
  last: CheckResult<S>;

  constructor(
    readonly check: Check<S>,
    readonly scene: Scene,
  ) {
    this.state = check.initial(scene.rig);
    this.last = { state: this.state, findings: [] };
  }

  #take(seen: Observation): CheckResult<S> {
    this.last = this.check.run(this.state, seen, this.scene.rig);
    for (const finding of this.last.findings) wellStated(this.check, finding, this.scene);
    this.state = this.last.state;
    return this.last;
  }

  /** Feeds this many reports; `edit` spoils the scene before each. */
  reports(count: number, edit: (scene: Scene, k: number) => void = () => {}): this {
    for (let k = 0; k < count; k++) {
      edit(this.scene, k);
      this.#take(this.scene.report());
    }
    return this;
  }

  /** Reports that were held up and arrive together. */
  burst(count: number, apartMs: number): this {
    for (let k = 0; k < count; k++) this.#take(this.scene.report(apartMs));
    return this;
  }

  tick(ms: number): this {
    this.#take(this.scene.tick(ms));
    return this;
  }

  /** Codes failing now, with their parts, e.g. `pole-welded/P`. */
  get failing(): string[] {
    return this.last.findings.filter((f) => f.failing).map((f) => (f.part ? `${f.code}/${f.part}` : f.code));
  }

  get proofs(): readonly string[] {
    return this.last.proofs ?? [];
  }

  finding(code: Code, part?: string): Finding {
    const found = this.last.findings.find((f) => f.code === code && (part === undefined || f.part === part));
    if (found === undefined) throw new Error(`${this.check.name} did not state ${code} ${part ?? ''}`);
    return found;
  }

  limit(name: string): number {
    return this.last.limits?.find((l) => l.limit === name)?.currentA ?? Number.NaN;
  }
}
