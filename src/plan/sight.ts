/**
 * What a supervisor would see of the model: readings without error, of the fields that the checks which name limits
 * look at. So the limits of a plan come from the very checks of a session, and not from a second set of formulas.
 */
import type { Observation, Ordered, Seen, Wish } from '../checks/check.js';
import type { Phase, ReadingOf, Role } from '../rig/roles.js';
import { ROLES } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Flow, TrainModel } from './train-model.js';

const NEVER = Number.POSITIVE_INFINITY;
const NOT_YET = { converter: NEVER, setpoint: NEVER, contactorP: NEVER, contactorN: NEVER, pre: NEVER };
const SINCE = { train: NEVER, rafts: NEVER, bleeder: NEVER, latch: NEVER, pilot: NEVER, isolation: NEVER };

const blank = <R extends Role>(role: R): ReadingOf<R> =>
  Object.fromEntries(ROLES[role].fields.map(({ name }) => [name, 0])) as unknown as ReadingOf<R>;

const seen = <R extends Role>(value: ReadingOf<R>): Seen<R> => ({ value, ageMs: 0, isNew: true });

export interface Moment {
  readonly nowMs: number;
  readonly stepMs: number;
  readonly phase: Phase;
  readonly phaseMs: number;
  readonly sessionMs: number;
  readonly currentA: number;
  readonly energyKwh: number;
  readonly wish: Wish;
  readonly governed: Observation['governed'];
}

export class Sight {
  readonly #rig: Rig;
  readonly #ordered: Ordered;
  readonly #supply: ReadingOf<'supply'>;

  constructor(rig: Rig) {
    this.#rig = rig;
    this.#ordered = {
      ...{ converterEnabled: true, setpointA: 0, voltageLimitV: 0, closedP: true, closedN: true },
      ...{ closedPre: false, trainClosed: true, bleedOutput: false, bleedPlug: false, locked: true },
      ...{ pilotOn: true, isolationPoint: 0, isolationResistor: 0 },
      raftJoined: rig.battery.rafts.map(({ kind }) => kind === 'battery'),
      sinceMs: { ...NOT_YET, ...SINCE, makeSafe: NEVER },
    };
    const { nominalVoltageV: voltageV, nominalFrequencyHz: frequencyHz = Number.NaN } = rig.supply;
    // Within its slope a supply does not sag: the loader has refused a rig whose ramp is steeper.
    this.#supply = { ...blank('supply'), ready: 1, breakerClosed: 1, voltageV, frequencyHz };
  }

  of(model: TrainModel, flow: Flow, moment: Moment): Observation {
    const { trainV, outputV, packA } = flow;
    const { currentA, energyKwh, ...when } = moment;
    const { conductorC: cableC, contactC } = model.cable;
    const hottestC = Math.max(contactC.p, contactC.n);
    return {
      ...{ trippedIn: null, device: [], loop: null, isolation: null, contactor: null, bleeder: null },
      ...{ latch: null, berth: null, stop: null, converter: null },
      ...when,
      meter: seen({ ...blank('meter'), currentA, outputV, plugV: trainV, cableC, contactC: hottestC }),
      train: seen({ ...blank('train'), closedP: 1, closedN: 1, trainV }),
      supply: seen({ ...this.#supply, powerW: flow.supplyW }),
      rafts: model.rafts.map((raft, i) =>
        seen({
          ...{ sample: 0, packV: trainV, packA: packA[i]!, joined: Number(model.joined.includes(i)) },
          ...{ isolationOhm: raft.isolationOhm, soc: raft.soc, allowedA: raft.unit.allowedA, alarm: 0 },
          ...{ cellMinV: raft.cellMinV(), cellMaxV: raft.cellMaxV() },
          ...{ cellMinC: raft.cellMinC(), cellMaxC: raft.cellMaxC(), generatorRunning: 0 },
        }),
      ),
      joined: model.joined,
      ordered: this.#ordered,
      portSilentMs: this.#rig.link.ports.map(() => 0),
      journal: { lagMs: 0, failed: false },
      energyToBatteryKwh: energyKwh,
    };
  }
}
