/**
 * One conversation with a station on Modbus RTU: one request at a time, each answered within its time. The library
 * makes and reads the frames (CRC-16, function codes 3, 4, 6 and 16, exceptions); cutting them from the bytes, the time,
 * and what is out of step are done here, because an answer carries no number that ties it to its request.
 */
import { EventEmitter } from 'node:events';
import MB from 'modbus-serial';
import type { ByteLink } from '../link/link.js';
import { type AnswerDone, Conversation, type ConversationOptions, type Job } from './conversation.js';
import type { Trouble } from './talk.js';

type Client = InstanceType<typeof MB.default>;
/** Registers read; empty after a write. */
type Registers = readonly number[];
export type RegistersDone = AnswerDone<Registers>;

export type Request =
  | { readonly read: 'holding' | 'input'; readonly address: number; readonly registers: number }
  | { readonly write: readonly number[]; readonly address: number };

export interface ModbusSessionOptions extends ConversationOptions {
  readonly link: ByteLink;
  readonly unit: number;
  /** Asked when the conversation was out of step; the same registers must come back. */
  readonly identity: Extract<Request, { read: unknown }>;
}

/** No frame of Modbus RTU is longer. */
const LONGEST_FRAME = 256;
const EXCEPTION_BYTES = 5;
const EXCEPTION_BIT = 0x80;

/** What the library takes for a port: whole frames in, whole frames out. */
class FramePort extends EventEmitter {
  isOpen = true;
  /** Bytes of the answer awaited; 0 when none is. */
  #awaits = 0;
  #got: Uint8Array = new Uint8Array(0);

  constructor(private readonly send: (bytes: Uint8Array) => boolean) {
    super();
  }

  open(done: (error?: Error) => void): void {
    done();
  }
  close(done?: () => void): void {
    done?.();
  }

  write(frame: Buffer): void {
    const code = frame[1] as number;
    this.#got = new Uint8Array(0);
    this.#awaits = code === 3 || code === 4 ? EXCEPTION_BYTES + 2 * frame.readUInt16BE(4) : 8;
    this.send(frame);
  }

  forget(): void {
    this.#awaits = 0;
  }

  /** @returns bytes nobody waits for */
  take(bytes: Uint8Array): number {
    if (this.#awaits === 0) return bytes.length;
    this.#got = Buffer.concat([this.#got, bytes]).subarray(0, LONGEST_FRAME);
    const isException = ((this.#got[1] ?? 0) & EXCEPTION_BIT) !== 0;
    const wanted = isException ? EXCEPTION_BYTES : this.#awaits;
    if (this.#got.length < wanted) return 0;
    const frame = this.#got.subarray(0, wanted);
    const more = this.#got.length - wanted;
    this.#awaits = 0;
    this.emit('data', Buffer.from(frame));
    return more;
  }
}

export class ModbusSession extends Conversation<Request, Registers> {
  /** Waits for the answer under way, and for nothing else: it goes out even if that never comes. */
  #urgent: Request | null = null;
  readonly #port: FramePort;
  readonly #client: Client;

  constructor(private readonly options: ModbusSessionOptions) {
    super(options);
    this.#port = new FramePort((bytes) => options.link.write(bytes));
    this.#client = new MB.default(this.#port);
    this.#client.open();
  }

  /** @throws PortError */
  async open(down: (reason: string) => void): Promise<void> {
    await this.options.link.open({
      bytes: (bytes) => this.#take(bytes),
      down: (reason) => {
        this.end(reason);
        down(reason);
      },
    });
  }

  async close(): Promise<void> {
    this.end('closed');
    await this.options.link.close();
  }

  /**
   * Next of all, and nothing that waits is sent any more. What was asked is still awaited: two stations talking at
   * once would spoil both. Out of step it is sent at once, without an answer being awaited.
   */
  urgent(request: Request): void {
    this.overtake(() => {
      if (this.inStep) {
        this.#urgent = request;
        this.next();
      } else if (this.state !== 'closed') this.#shout(request);
    });
  }

  /** Sent without an answer being awaited. */
  #shout(request: Request): void {
    this.#send(request, () => {});
    this.#port.forget();
  }

  #send(request: Request, answered: (error: Error | null, data?: unknown) => void): void {
    const { unit } = this.options;
    const next = answered as (error: Error | null, data: unknown) => void;
    if ('read' in request) {
      const { address, registers } = request;
      if (request.read === 'holding') this.#client.writeFC3(unit, address, registers, next);
      else this.#client.writeFC4(unit, address, registers, next);
    } else if (request.write.length === 1)
      this.#client.writeFC6(unit, request.address, request.write[0] as number, next);
    else this.#client.writeFC16(unit, request.address, [...request.write], next);
  }

  protected override first(): Job<Request, Registers> | null {
    const question = this.#urgent;
    this.#urgent = null;
    const tell = (trouble: Trouble | null): void => {
      if (trouble !== null) this.options.trouble(trouble);
    };
    return question === null ? null : { question, done: (_, trouble) => tell(trouble) };
  }

  /** A line that takes nothing more is seen by the answer that does not come. */
  protected override transmit(job: Job<Request, Registers>): boolean {
    this.#send(job.question, (error, data) => this.#heard(job, error, data));
    return true;
  }

  #heard(job: Job<Request, Registers>, error: Error | null, data: unknown): void {
    if (!this.isAsked(job)) return;
    const trouble = error === null ? null : troubleOf(error, job.question);
    if (trouble === null) this.answered('read' in job.question ? (data as { data: number[] }).data : []);
    // An exception is an answer in step; a damaged or foreign one is not.
    else if (trouble.kind === 'modbus-exception') this.answered(null, trouble);
    else this.lose(trouble);
  }

  #take(bytes: Uint8Array): void {
    if (this.state === 'listening') {
      this.listen();
      return;
    }
    if (this.state === 'closed') return;
    const more = this.#port.take(bytes);
    if (more > 0 && this.inStep)
      this.lose({ kind: 'bad-answer', value: 0, text: `${more} bytes nobody asked for` });
  }

  protected override lost(): void {
    if (this.#urgent !== null) this.#shout(this.#urgent);
    this.#urgent = null;
  }

  protected override forget(): void {
    this.#port.forget();
  }

  protected override askIdentity(): void {
    this.#send(this.options.identity, (error, data) => {
      if (this.state !== 'greeting') return;
      if (error !== null) {
        this.unanswered();
        return;
      }
      const registers = (data as { data: number[] }).data;
      this.introduced(registers.join(), registers, 'another instrument answers');
    });
  }
}

/** What the library says, in our words. */
function troubleOf(error: Error, request: Request): Trouble {
  const what =
    'read' in request ? `reading ${request.read} ${request.address}` : `writing ${request.address}`;
  const code = (error as { modbusCode?: number }).modbusCode;
  if (code !== undefined)
    return {
      kind: 'modbus-exception',
      value: code,
      text: `${what}: exception ${code}, ${exceptionText(code)}`,
    };
  if (/crc/i.test(error.message)) return { kind: 'bad-crc', value: 0, text: `${what}: wrong check` };
  return { kind: 'bad-answer', value: 0, text: `${what}: ${error.message.slice(0, 120)}` };
}

/** Modbus Application Protocol V1.1b3, chapter 7. */
function exceptionText(code: number): string {
  const texts: Readonly<Record<number, string>> = {
    1: 'illegal function',
    2: 'illegal data address',
    3: 'illegal data value',
    4: 'server device failure',
    5: 'acknowledge',
    6: 'server device busy',
    8: 'memory parity error',
    10: 'gateway path unavailable',
    11: 'gateway target failed to respond',
  };
  return texts[code] ?? 'unknown';
}
