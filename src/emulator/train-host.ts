/** Ties an emulated train to its instrument and to the line on which the supervisor speaks to it, in real time. */
import { Device } from '../../simulators/device.js';
import type { Clock } from '../host/clock.js';
import type { Talk } from '../instruments/talk.js';
import { servedRoles } from '../link/frames.js';
import type { FarEnd } from '../link/memory.js';
import type { InstrumentMap } from '../rig/instrument-schema.js';
import type { Order } from '../rig/orders.js';
import type { Rig } from '../rig/schema.js';
import { BatteryLoop } from './battery-loop.js';
import { EmulatedTrain, type TrainStart } from './emulated-train.js';

const WAKE_MS = 5;
/** A process that stood still for longer lets the rest of that time go; its watchdog sees the second. */
const MOST_AT_ONCE_MS = 1000;

export interface TrainHostOptions {
  readonly clock: Clock;
  readonly rig: Rig;
  /** Name of the train's port in the rig. */
  readonly port: string;
  readonly map: InstrumentMap;
  readonly talk: Talk;
  readonly pollMs: number;
  readonly start: TrainStart;
  /** The device's end of the line. */
  readonly end: FarEnd;
  told(text: string): void;
}

/** The train, whose opening goes to the instrument at once. */
class TrainWithLoop extends EmulatedTrain {
  opened: () => void = () => {};

  override apply(order: Order): void {
    super.apply(order);
    if (order.name === 'open-train' || order.name === 'part-raft') this.opened();
  }
}

export class TrainHost {
  readonly train: EmulatedTrain;
  readonly #loop: BatteryLoop;
  readonly #device: Device;
  #originMs = 0;
  #stopped = false;

  constructor(private readonly options: TrainHostOptions) {
    const { clock, rig, port, map, talk, pollMs, start, end, told } = options;
    const train = new TrainWithLoop(rig, start);
    this.train = train;
    this.#loop = new BatteryLoop({ clock, map, talk, train, pollMs, told });
    train.opened = () => this.#loop.openNow();
    this.#device = new Device({
      plant: train,
      rig,
      port,
      roles: servedRoles(rig.link.ports.find((p) => p.name === port)?.roles ?? [], rig.battery.rafts.length),
      emit: (line) => end.send(line),
      identity: {
        model: 'lw-emulated-train',
        serial: '0001',
        firmware: '1.0.0',
        calibratedOn: map.calibratedOn,
      },
      limits: map.limits,
    });
    end.listen((line) => {
      if (this.#stopped) return;
      this.#catchUp();
      this.#device.receive(line);
    });
  }

  start(): void {
    this.#originMs = this.options.clock.nowMs();
    this.#loop.start();
    this.#wake();
  }

  /** The instrument is gone. */
  fail(why: string): void {
    this.train.fail(why);
  }

  /** Output off; true when it reads off in time. */
  async stop(withinMs: number): Promise<boolean> {
    const { clock, talk, pollMs } = this.options;
    this.train.fail('stopped');
    this.#loop.openNow();
    for (let waitedMs = 0; waitedMs < withinMs && this.#loop.isOn; waitedMs += pollMs)
      await new Promise<void>((resolve) => clock.after(pollMs, resolve));
    this.#stopped = true;
    this.#loop.stop();
    talk.offAtOnce();
    return !this.#loop.isOn;
  }

  #wake(): void {
    if (this.#stopped) return;
    this.#catchUp();
    this.options.clock.after(WAKE_MS, () => this.#wake());
  }

  #catchUp(): void {
    const elapsedMs = Math.floor(this.options.clock.nowMs() - this.#originMs);
    const behindMs = elapsedMs - this.train.nowMs - MOST_AT_ONCE_MS;
    if (behindMs > 0) this.#originMs += behindMs;
    this.train.advanceTo(elapsedMs - Math.max(0, behindMs));
    this.#device.tick(this.train.nowMs);
  }
}
