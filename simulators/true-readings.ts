/**
 * What a perfect instrument would have told at each instant somebody reads one: the truth a journaled reading is held
 * against. Taken from the parts alone; nothing is shared with the sensors, whose noise, gains and faults it does not
 * know. Names are those of the dictionary of readings, where it has one; what no sensor reads itself but a check works
 * out from what they read (a leak, a capacitance, a drop) stands beside them under names of its own.
 */
import { ISOLATION_POINT } from '../src/rig/roles.js';
import type { PoleName } from './circuit.js';
import type { Parts } from './parts.js';
import type { PlantRole } from './sensors.js';
import type { Ledger, TrueReadingSink } from './truth.js';

type Values = Readonly<Record<string, number>>;
const POLES: readonly PoleName[] = ['p', 'n'];

/** Least and greatest of every step since the last read. */
class Span {
  least = Number.POSITIVE_INFINITY;
  most = Number.NEGATIVE_INFINITY;

  add(x: number): void {
    if (x < this.least) this.least = x;
    if (x > this.most) this.most = x;
  }
  within(x: number): number {
    return Math.min(Math.max(x, this.least), this.most);
  }
  clear(): void {
    this.least = Number.POSITIVE_INFINITY;
    this.most = Number.NEGATIVE_INFINITY;
  }
}

export class TrueReadings {
  readonly #current = new Span();
  readonly #output = new Span();
  readonly #plug = new Span();

  constructor(
    private readonly parts: Parts,
    private readonly ledger: Ledger,
    private readonly sink: TrueReadingSink,
  ) {}

  /** Every step of 1 ms. */
  track(currentA: number, outputV: number, plugV: number): void {
    this.#current.add(currentA);
    this.#output.add(outputV);
    this.#plug.add(plugV);
  }

  /** Somebody reads this role now. */
  note(role: PlantRole, raft: number, nowMs: number): void {
    const values = this.#of(role, raft, nowMs);
    if (values !== null) this.sink(role === 'raft' ? `raft${raft}` : role, nowMs, values);
  }

  /** Null for roles of flags alone. */
  #of(role: PlantRole, raft: number, nowMs: number): Values | null {
    const { parts, ledger } = this;
    const { circuit, converter, bleeders, supply, stand } = parts;
    switch (role) {
      case 'converter':
        return {
          outputV: circuit.outputV(),
          outputA: ledger.converterMeanA,
          appliedSetpointA: converter.referenceA,
          appliedLimitV: converter.orderedV,
          temperatureC: converter.heatSinkC,
        };
      case 'meter':
        return this.#meter();
      case 'loop':
        return parts.pilot === null
          ? null
          : { ...parts.pilot.trueFeatures(nowMs), ...parts.pilot.trueFigures };
      case 'isolation':
        return this.#isolation();
      case 'bleeder':
        return { temperatureC: bleeders.temperatureC };
      case 'berth':
        return { bondOhm: stand.bondOhm };
      case 'train':
        return { trainV: circuit.trainV() };
      case 'raft':
        return this.#raft(raft);
      case 'supply':
        return {
          frequencyHz: supply.frequencyHz(),
          voltageV: supply.voltageV(),
          powerW: supply.powerW,
        };
      default:
        return null;
    }
  }

  /** Least and greatest are since the last read: whoever keeps them longer puts several together. */
  #meter(): Values {
    const { circuit, cable } = this.parts;
    const outputV = circuit.outputV();
    const plugV = circuit.plugV();
    // Read before the first step: there is nothing but the present.
    if (this.#current.least > this.#current.most) this.track(circuit.poleA('p'), outputV, plugV);
    const values = {
      // A transducer tells the mean of the last 10 ms, as far as there was such a current since it was last read.
      currentA: this.#current.within(this.ledger.poleMeanA),
      currentMinA: this.#current.least,
      currentMaxA: this.#current.most,
      outputV,
      outputMinV: this.#output.least,
      outputMaxV: this.#output.most,
      plugV,
      plugMinV: this.#plug.least,
      plugMaxV: this.#plug.most,
      outputPositiveV: circuit.poleVolts('charger', 'p'),
      outputNegativeV: circuit.poleVolts('charger', 'n'),
      plugPositiveV: circuit.poleVolts('cable', 'p'),
      plugNegativeV: circuit.poleVolts('cable', 'n'),
      cableC: cable.conductorC,
      contactC: Math.max(cable.contactC.p, cable.contactC.n),
      /** Mean of both plug contacts. */
      contactDropV: (circuit.lineA('p') * cable.contactOhm.p + circuit.lineA('n') * cable.contactOhm.n) / 2,
      /** Time constant of the pre-charge. */
      prechargeS: circuit.prechargeOhm * this.parts.rig.converter.capacitanceF,
    };
    for (const span of [this.#current, this.#output, this.#plug]) span.clear();
    return values;
  }

  #isolation(): Values {
    const { isolation, circuit, poleP, poleN } = this.parts;
    const connected = isolation.point !== ISOLATION_POINT.off;
    const values: Record<string, number> = {
      positiveV: connected ? isolation.poleV('p') : Number.NaN,
      negativeV: connected ? isolation.poleV('n') : Number.NaN,
      /** Of each dead side, both poles together. */
      chargerOhm: 1 / POLES.reduce((sum, pole) => sum + circuit.leakS('charger', pole), 0),
      cableOhm: 1 / POLES.reduce((sum, pole) => sum + circuit.leakS('cable', pole), 0),
    };
    // With the train joined: what hangs together now.
    const charger = poleP.closed && poleN.closed;
    const joined = POLES.map(
      (pole) =>
        circuit.leakS('cable', pole) +
        circuit.leakS('train', pole) +
        (charger ? circuit.leakS('charger', pole) : 0),
    );
    values.joinedLowerOhm = 1 / Math.max(...joined);
    values.joinedParallelOhm = 1 / joined.reduce((sum, s) => sum + s, 0);
    const farad = POLES.reduce(
      (sum, pole) =>
        sum +
        circuit.toChassisF('cable', pole) +
        circuit.toChassisF('train', pole) +
        (charger ? circuit.toChassisF('charger', pole) : 0),
      0,
    );
    values.storedJ = 0.5 * farad * circuit.plugV() ** 2;
    return values;
  }

  #raft(number: number): Values | null {
    const raft = this.parts.rafts[number - 1];
    if (raft === undefined || raft.kind === 'generator') return null;
    return {
      packV: raft.packV(),
      packA: raft.packA,
      isolationOhm: raft.isolationOhm,
      cellMinV: raft.cellMinV(),
      cellMaxV: raft.cellMaxV(),
      cellMinC: raft.cellMinC(),
      cellMaxC: raft.cellMaxC(),
      soc: raft.soc,
      allowedA: raft.unit.allowedA,
      seriesOhm: raft.seriesOhm(),
    };
  }
}
