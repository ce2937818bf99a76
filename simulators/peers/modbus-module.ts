/**
 * A simulated power module on Modbus RTU: drives the converter of the world. Written from the Modbus Application
 * Protocol V1.1b3 and the serial line guide V1.02 alone; the adapter's frames are made by a library, these by hand.
 */
import { CONVERTER_STATE } from '../../src/rig/roles.js';
import { BenchOutput } from './bench-output.js';
import { type Hosted, PeerFaults, type PeerKind, type PeerPlace } from './peer.js';

const STATION = 17;
const MODEL = 'PM-850-320';
const THINKS_MS = 2;
const LATE_MS = 120;
const TWICE_MS = 8;
const LONGEST = 256;
/** Bytes this far apart belong to different frames (3.5 characters, with room for the wire's pieces). */
const FRAME_GAP_MS = 8;

const IDENTITY_AT = 0;
const STATUS_AT = 256;
const OUTPUT_AT = 512;
const WATCHDOG_AT = 528;
const MOST_V_AT = 529;

const ILLEGAL_FUNCTION = 1;
const ILLEGAL_ADDRESS = 2;
const ILLEGAL_VALUE = 3;

/** CRC-16 of Modbus RTU: polynomial A001 reflected, start FFFF. Over `123456789` it gives 4B37. */
export function modbusCrc(bytes: readonly number[]): number {
  let crc = 0xffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
  }
  return crc;
}

const sealed = (body: readonly number[]): number[] => {
  const crc = modbusCrc(body);
  return [...body, crc & 0xff, crc >> 8];
};
const word = (bytes: readonly number[], at: number): number => ((bytes[at] ?? 0) << 8) | (bytes[at + 1] ?? 0);
const high = (n: number): number => (n >>> 16) & 0xffff;
const low = (n: number): number => n & 0xffff;

class ModbusModule implements Hosted {
  #nowMs = 0;
  #heardMs = 0;
  #lastByteMs = 0;
  #got: number[] = [];
  #later: { readonly atMs: number; readonly bytes: readonly number[] }[] = [];
  readonly #faults: PeerFaults;
  #torn = false;
  readonly #output: BenchOutput;
  #currentCounts = 0;
  #voltageCounts = 0;
  #mostVoltageCounts = 8500;
  /** 0: off. */
  #watchdogMs = 0;

  constructor(private readonly place: PeerPlace) {
    this.#faults = new PeerFaults(place.faults);
    this.#output = new BenchOutput(place);
  }

  get nextTickMs(): number {
    return Math.min(this.#nowMs + 10, ...this.#later.map((l) => l.atMs));
  }

  tick(nowMs: number): void {
    this.#nowMs = nowMs;
    if (!this.#torn && this.#wrong('unplugged')) {
      this.#torn = true;
      this.place.unplug();
    }
    if (this.#output.on && this.#watchdogMs > 0 && nowMs - this.#heardMs > this.#watchdogMs)
      this.#output.switch(false);
    const due = this.#later.filter((l) => l.atMs <= nowMs);
    this.#later = this.#later.filter((l) => l.atMs > nowMs);
    for (const { bytes } of due) this.place.send(String.fromCharCode(...bytes));
  }

  receive(text: string): void {
    if (this.#torn) return;
    if (this.#nowMs - this.#lastByteMs > FRAME_GAP_MS) this.#got = [];
    this.#lastByteMs = this.#nowMs;
    this.#got = [...this.#got, ...Array.from(text, (c) => c.charCodeAt(0))].slice(-LONGEST);
    const length = this.#got[1] === 16 ? 9 + (this.#got[6] ?? LONGEST) : 8;
    if (this.#got.length < length) return;
    const frame = this.#got.slice(0, length);
    this.#got = [];
    const body = frame.slice(0, -2);
    const crc = modbusCrc(body);
    // Damaged, or for another station: no answer at all.
    if (frame.at(-2) !== (crc & 0xff) || frame.at(-1) !== crc >> 8 || frame[0] !== STATION) return;
    this.#heardMs = this.#nowMs;
    this.#answer(this.#carryOut(body));
  }

  #wrong(fault: Parameters<PeerFaults['has']>[0]): boolean {
    return this.#faults.has(fault, this.place.phase(), this.#nowMs);
  }

  #answer(pdu: readonly number[] | number, code = this.#code): void {
    if (this.#wrong('silent')) return;
    const body = typeof pdu === 'number' ? [STATION, code | 0x80, pdu] : [STATION, code, ...pdu];
    let bytes = sealed(body);
    if (this.#wrong('wrong-crc')) bytes = [...bytes.slice(0, -1), (bytes.at(-1) as number) ^ 0x40];
    if (this.#wrong('garbage')) bytes = bytes.map((b, i) => (b * 73 + 41 * i) & 0xff);
    const atMs = this.#nowMs + (this.#wrong('answers-late') ? LATE_MS : THINKS_MS);
    this.#later.push({ atMs, bytes });
    if (this.#wrong('answers-twice')) this.#later.push({ atMs: atMs + TWICE_MS, bytes });
  }

  #code = 0;

  /** Data of the answer, or the number of an exception. */
  #carryOut(body: readonly number[]): number[] | number {
    this.#code = body[1] as number;
    const at = word(body, 2);
    const value = word(body, 4);
    switch (this.#code) {
      case 3:
      case 4: {
        const registers: (number | null)[] = [];
        for (let i = 0; i < value; i++) registers.push(this.#register(this.#code, at + i));
        if (value < 1 || value > 125) return ILLEGAL_VALUE;
        if (registers.includes(null)) return ILLEGAL_ADDRESS;
        return [2 * value, ...registers.flatMap((r) => [(r as number) >> 8, (r as number) & 0xff])];
      }
      case 6:
        return this.#write(at, [value]) ?? body.slice(2);
      case 16: {
        const values = Array.from({ length: value }, (_, i) => word(body, 7 + 2 * i));
        return this.#write(at, values) ?? body.slice(2, 6);
      }
      default:
        return ILLEGAL_FUNCTION;
    }
  }

  #register(code: number, address: number): number | null {
    if (code === 3) {
      const holding: Readonly<Record<number, number>> = {
        [OUTPUT_AT]: this.#output.on ? 1 : 0,
        [OUTPUT_AT + 1]: high(this.#currentCounts),
        [OUTPUT_AT + 2]: low(this.#currentCounts),
        [OUTPUT_AT + 3]: this.#voltageCounts,
        [WATCHDOG_AT]: this.#watchdogMs,
        [MOST_V_AT]: this.#mostVoltageCounts,
      };
      return holding[address] ?? null;
    }
    if (address >= IDENTITY_AT && address < IDENTITY_AT + 8) {
      const at = 2 * (address - IDENTITY_AT);
      return ((MODEL.charCodeAt(at) || 0) << 8) | (MODEL.charCodeAt(at + 1) || 0);
    }
    return this.#status()[address - STATUS_AT] ?? null;
  }

  #status(): number[] {
    const { state, outputV, outputA, temperatureC } = this.place.plant.read('converter');
    const overloaded = this.#wrong('overload');
    // Without a sign: what noise makes of 0 V stays 0.
    const volts = overloaded || Number.isNaN(outputV) ? 0xffffffff : Math.max(0, Math.round(100 * outputV));
    const amps = overloaded || Number.isNaN(outputA) ? 0x80000000 : Math.round(100 * outputA) >>> 0;
    const tenths = Number.isNaN(temperatureC) ? 0x8000 : Math.round(10 * temperatureC) & 0xffff;
    return [
      state === CONVERTER_STATE.fault ? 1 : 0,
      this.#output.on ? 1 : 0,
      low(volts),
      high(volts),
      high(amps),
      low(amps),
      tenths,
    ];
  }

  /** Null when it was done. */
  #write(at: number, values: readonly number[]): number | null {
    if (this.#wrong('exception') && at !== OUTPUT_AT) return ILLEGAL_VALUE;
    const [first = 0, second = 0] = values;
    if (at === OUTPUT_AT && values.length === 1) {
      if (first > 1) return ILLEGAL_VALUE;
      if (first === 1 || !this.#wrong('wont-switch-off')) this.#output.switch(first === 1);
      return null;
    }
    if (at === OUTPUT_AT + 1 && values.length === 2) {
      const counts = first * 65536 + second;
      if (counts > 32_000) return ILLEGAL_VALUE;
      this.#currentCounts = counts;
      this.#output.setCurrent(counts / 100);
    } else if (at === OUTPUT_AT + 3 && values.length === 1) {
      if (first > this.#mostVoltageCounts) return ILLEGAL_VALUE;
      this.#voltageCounts = first;
      this.#output.setVoltage(first / 10);
    } else if (at === WATCHDOG_AT && values.length === 1) this.#watchdogMs = first;
    else if (at === MOST_V_AT && values.length === 1) {
      if (first > 9000) return ILLEGAL_VALUE;
      this.#mostVoltageCounts = first;
    } else return ILLEGAL_ADDRESS;
    return null;
  }
}

export const modbusModule: PeerKind = { bytes: true, make: (place) => new ModbusModule(place) };
