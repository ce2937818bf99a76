/** What has been ordered so far in this session, and when. Orders are never assumed to have been obeyed. */
import type { Ordered } from '../checks/check.js';
import type { Order } from '../rig/orders.js';

type Group = keyof Ordered['sinceMs'];
export type Standing = Omit<Ordered, 'sinceMs'>;

/** Before the first order: any time since then is infinite. */
const NEVER = Number.NEGATIVE_INFINITY;

export class OrderBook {
  readonly #atMs: Record<Group, number> = {
    converter: NEVER,
    setpoint: NEVER,
    contactorP: NEVER,
    contactorN: NEVER,
    pre: NEVER,
    train: NEVER,
    rafts: NEVER,
    bleeder: NEVER,
    latch: NEVER,
    pilot: NEVER,
    isolation: NEVER,
    makeSafe: NEVER,
  };
  #now: Standing = {
    converterEnabled: false,
    setpointA: 0,
    voltageLimitV: 0,
    closedP: false,
    closedN: false,
    closedPre: false,
    trainClosed: false,
    raftJoined: [],
    bleedOutput: false,
    bleedPlug: false,
    locked: false,
    pilotOn: false,
    isolationPoint: 0,
    isolationResistor: 0,
  };

  constructor(rafts: number) {
    this.#now = { ...this.#now, raftJoined: new Array<boolean>(rafts).fill(false) };
  }

  note(order: Order, nowMs: number): void {
    if (order.name === 'make-safe') {
      // The device runs the sequence of DEVELOPERS.md by itself; the first order counts.
      if (this.#atMs.makeSafe !== NEVER) return;
      this.#atMs.pre = nowMs;
    }
    if (order.name === 'join-raft' || order.name === 'part-raft') {
      const raftJoined = [...this.#now.raftJoined];
      raftJoined[order.args.raft - 1] = order.name === 'join-raft';
      this.#now = { ...this.#now, raftJoined };
    }
    const change = changeOf(order);
    if (change === null) return;
    this.#atMs[change[0]] = nowMs;
    this.#now = { ...this.#now, ...change[1] };
  }

  /** The last one that left, A. */
  get setpointA(): number {
    return this.#now.setpointA;
  }

  /** What stands ordered now, without the times. */
  get standing(): Standing {
    return this.#now;
  }

  /** Written out: a spread and twelve keyed stores were 4 % of a step in its profile. */
  view(nowMs: number): Ordered {
    const now = this.#now;
    const at = this.#atMs;
    return {
      converterEnabled: now.converterEnabled,
      setpointA: now.setpointA,
      voltageLimitV: now.voltageLimitV,
      closedP: now.closedP,
      closedN: now.closedN,
      closedPre: now.closedPre,
      trainClosed: now.trainClosed,
      raftJoined: now.raftJoined,
      bleedOutput: now.bleedOutput,
      bleedPlug: now.bleedPlug,
      locked: now.locked,
      pilotOn: now.pilotOn,
      isolationPoint: now.isolationPoint,
      isolationResistor: now.isolationResistor,
      sinceMs: {
        converter: nowMs - at.converter,
        setpoint: nowMs - at.setpoint,
        contactorP: nowMs - at.contactorP,
        contactorN: nowMs - at.contactorN,
        pre: nowMs - at.pre,
        train: nowMs - at.train,
        rafts: nowMs - at.rafts,
        bleeder: nowMs - at.bleeder,
        latch: nowMs - at.latch,
        pilot: nowMs - at.pilot,
        isolation: nowMs - at.isolation,
        makeSafe: nowMs - at.makeSafe,
      },
    };
  }
}

/** Which group of orders this one belongs to, and what now stands ordered. */
function changeOf(order: Order): [Group, Partial<Standing>] | null {
  switch (order.name) {
    case 'make-safe':
      return [
        'makeSafe',
        {
          converterEnabled: false,
          setpointA: 0,
          closedP: false,
          closedN: false,
          closedPre: false,
          trainClosed: false,
        },
      ];
    case 'enable-converter':
      return ['converter', { converterEnabled: true }];
    case 'disable-converter':
      return ['converter', { converterEnabled: false, setpointA: 0 }];
    case 'setpoint':
      return ['setpoint', { setpointA: order.args.currentA, voltageLimitV: order.args.voltageV }];
    case 'close-p':
    case 'open-p':
      return ['contactorP', { closedP: order.name === 'close-p' }];
    case 'close-n':
    case 'open-n':
      return ['contactorN', { closedN: order.name === 'close-n' }];
    case 'close-pre':
    case 'open-pre':
      return ['pre', { closedPre: order.name === 'close-pre' }];
    case 'close-train':
    case 'open-train':
      return ['train', { trainClosed: order.name === 'close-train' }];
    case 'join-raft':
    case 'part-raft':
      return ['rafts', {}];
    case 'bleed-output':
      return ['bleeder', { bleedOutput: order.args.on === 1 }];
    case 'bleed-plug':
      return ['bleeder', { bleedPlug: order.args.on === 1 }];
    case 'lock':
    case 'unlock':
      return ['latch', { locked: order.name === 'lock' }];
    case 'isolate':
      return ['isolation', { isolationPoint: order.args.point, isolationResistor: order.args.resistor }];
    case 'pilot':
      return ['pilot', { pilotOn: order.args.on === 1 }];
    case 'authority':
    case 'clear-latch':
    case 'waveform':
    case 'trip-supply':
      return null;
  }
}

/** Orders with the same key replace one another: repeating an older one would undo the newer. */
export function replacementKey(order: Order): string {
  if (order.name === 'join-raft' || order.name === 'part-raft') return `raft ${order.args.raft}`;
  return changeOf(order)?.[0] ?? order.name;
}
