/** An instrument on Modbus RTU told and read by its register map. */
import type { Clock } from '../host/clock.js';
import { type ByteLink, PortError } from '../link/link.js';
import type { ModbusMap } from '../rig/instrument-schema.js';
import { silentMs } from '../rig/instrument-timing.js';
import { ModbusSession, type Request } from './modbus-session.js';
import {
  fromRegisters,
  type RegisterType,
  registersOf,
  textOf,
  toRegisters,
  type WordOrder,
} from './registers.js';
import { roundedDown } from './scpi-number.js';
import { type Found, NoAnswer, opened, type Readings, type Talk, type Told, type Trouble } from './talk.js';

interface Target {
  readonly address: number;
  readonly type: RegisterType;
  readonly order: WordOrder;
  readonly scale: number;
}

export interface ModbusTalkOptions {
  readonly clock: Clock;
  readonly map: ModbusMap;
  readonly link: ByteLink;
  readonly baud: number;
  /** For messages. */
  readonly path: string;
  trouble(what: Trouble): void;
}

export class ModbusTalk implements Talk {
  readonly #session: ModbusSession;
  readonly #map: ModbusMap;

  constructor(private readonly options: ModbusTalkOptions) {
    const { clock, map, link, baud } = options;
    const { table, address, registers } = map.identity;
    this.#map = map;
    this.#session = new ModbusSession({
      clock,
      link,
      unit: map.unit,
      answerMs: map.timing.answerMs,
      gapMs: map.timing.gapMs + silentMs(baud),
      identity: { read: table, address, registers },
      trouble: (what) => options.trouble(what),
    });
  }

  open(down: (reason: string) => void): Promise<Found> {
    const { path, link } = this.options;
    const remedy = 'check that the instrument is on, its address and the baud rate';
    const refusal = (why: string) => new PortError(link.port, path, why, remedy);
    return opened(this.#session, down, () => this.#prepare(), refusal);
  }

  close(): Promise<void> {
    return this.#session.close();
  }

  output(on: boolean, done: Told): void {
    const request = this.#switching(on);
    if (request === null) done(null);
    else this.#session.ask(request, (_, trouble) => done(trouble));
  }

  /** Voltage first, then current; what cannot be written is refused here, as the instrument would. */
  set(currentA: number, voltageV: number, done: Told): void {
    const { actions, steps } = this.#map;
    if (!actions || !steps) {
      done(null);
      return;
    }
    this.#write(actions.setVoltage, roundedDown(voltageV, steps.voltageV), (trouble) => {
      if (trouble !== null) done(trouble);
      else this.#write(actions.setCurrent, roundedDown(currentA, steps.currentA), done);
    });
  }

  offAtOnce(): void {
    const request = this.#switching(false);
    if (request !== null) this.#session.urgent(request);
  }

  read(done: (readings: Readings | null, trouble: Trouble | null) => void): void {
    const { reads } = this.#map;
    const readings: Record<string, number> = {};
    const unreadable: string[] = [];
    const next = (i: number): void => {
      const block = reads[i];
      if (block === undefined) {
        const text = `cannot be read: ${unreadable.join(', ')}`;
        const isWhole = unreadable.length === 0;
        done(readings, isWhole ? null : { kind: 'overload', value: unreadable.length, text });
        return;
      }
      const { table, address, registers, values } = block;
      this.#session.ask({ read: table, address, registers }, (got, trouble) => {
        if (got === null) {
          done(null, trouble);
          return;
        }
        for (const { field, at, type, order, scale, offset, unreadable: mark } of values) {
          const count = fromRegisters(got, at, type, order);
          const isMark = !Number.isFinite(count) || count === mark;
          if (isMark) unreadable.push(field);
          readings[field] = isMark ? Number.NaN : count * scale + offset;
        }
        next(i + 1);
      });
    };
    next(0);
  }

  #switching(on: boolean): Request | null {
    const { actions } = this.#map;
    return actions
      ? { write: [on ? actions.output.on : actions.output.off], address: actions.output.address }
      : null;
  }

  #write(target: Target, value: number, done: Told): void {
    const write = toRegisters(value / target.scale, target.type, target.order);
    if (write === null)
      done({ kind: 'modbus-exception', value: 3, text: `${value} does not fit register ${target.address}` });
    else this.#session.ask({ write, address: target.address }, (_, trouble) => done(trouble));
  }

  // ---- opening --------------------------------------------------------------------------------------

  async #prepare(): Promise<Found> {
    const { map, path, link } = this.options;
    const registers = await this.#session.greet();
    if (registers === null)
      throw new NoAnswer(`station ${map.unit} gives no identity within ${map.timing.answerMs} ms`);
    const model = textOf(registers);
    if (model !== map.identity.model)
      throw new PortError(
        link.port,
        path,
        `it answers as ${JSON.stringify(model.slice(0, 64))}, ${map.name} expects the model ${map.identity.model}`,
        'check which line leads where',
      );
    let outputWasOn = false;
    if (map.role !== 'meter') {
      const readings = await new Promise<Readings | null>((resolve) => this.read((r) => resolve(r)));
      if (readings === null) throw new NoAnswer(`station ${map.unit} gives no readings`);
      outputWasOn = readings.outputOn !== 0;
      if (outputWasOn) await this.#settled('output off', (done) => this.output(false, done));
    }
    for (const { write, value, readBack } of map.opening) await this.#settle(write, value, readBack);
    if (typeof map.watchdog === 'object') {
      const { write, unit, timeMs } = map.watchdog;
      await this.#settle(write, unit === 's' ? timeMs / 1000 : timeMs, true);
    }
    return { model, serial: '0', firmware: '0', outputWasOn };
  }

  async #settled(what: string, act: (done: Told) => void): Promise<void> {
    const trouble = await new Promise<Trouble | null>((resolve) => act(resolve));
    if (trouble === null) return;
    if (trouble.kind === 'no-answer') throw new NoAnswer(`no answer to ${what}`);
    const { path, link } = this.options;
    throw new PortError(
      link.port,
      path,
      `it did not take ${what} (${trouble.text})`,
      'check its register map',
    );
  }

  /** @throws PortError when it is not taken, or not read back as it was written */
  async #settle(target: Target, value: number, readBack: boolean): Promise<void> {
    const { address, type, order, scale } = target;
    await this.#settled(`${value} in register ${address}`, (done) => this.#write(target, value, done));
    if (!readBack) return;
    const registers = await new Promise<readonly number[] | null>((resolve) =>
      this.#session.ask({ read: 'holding', address, registers: registersOf(type) }, (got) => resolve(got)),
    );
    if (registers === null) throw new NoAnswer(`no answer to reading register ${address}`);
    const read = fromRegisters(registers, 0, type, order) * scale;
    if (Math.abs(read - value) <= scale / 2) return;
    const { path, link } = this.options;
    throw new PortError(
      link.port,
      path,
      `register ${address} reads ${read} after ${value} was written`,
      'check its register map',
    );
  }
}
