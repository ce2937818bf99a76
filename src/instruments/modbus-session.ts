/**
 * One conversation with a station on Modbus RTU: one request at a time, each answered within its time. The library
 * makes and reads the frames (CRC-16, function codes 3, 4, 6 and 16, exceptions); cutting them from the bytes, the time,
 * and what is out of step are done here, because an answer carries no number that ties it to its request.
 */
import { EventEmitter } from 'node:events';
import MB from 'modbus-serial';
import type { Clock } from '../host/clock.js';
import type { ByteLink } from '../link/link.js';
import { overtaken, type Trouble } from './talk.js';

type Client = InstanceType<typeof MB.default>;
/** Registers read; empty after a write. */
export type RegistersDone = (registers: readonly number[] | null, trouble: Trouble | null) => void;

export type Request =
  | { readonly read: 'holding' | 'input'; readonly address: number; readonly registers: number }
  | { readonly write: readonly number[]; readonly address: number };

interface Question {
  readonly request: Request;
  readonly done: RegistersDone;
}

export interface ModbusSessionOptions {
  readonly clock: Clock;
  readonly link: ByteLink;
  readonly unit: number;
  readonly answerMs: number;
  /** At least the silence that ends a frame. */
  readonly gapMs: number;
  /** Asked when the conversation was out of step; the same registers must come back. */
  readonly identity: Extract<Request, { read: unknown }>;
  trouble(what: Trouble): void;
}

const MAX_WAITING = 16;
/** No frame of Modbus RTU is longer. */
const LONGEST_FRAME = 256;
const EXCEPTION_BYTES = 5;
const EXCEPTION_BIT = 0x80;
const LOOK_AGAIN_MS = 2;

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

type State = 'closed' | 'ready' | 'asking' | 'gap' | 'listening' | 'greeting';

export class ModbusSession {
  #state: State = 'closed';
  #queue: Question[] = [];
  #asked: Question | null = null;
  /** Waits for the answer under way, and for nothing else: it goes out even if that never comes. */
  #urgent: Request | null = null;
  #cancel: () => void = () => {};
  #identity = '';
  #greeted: ((registers: readonly number[] | null) => void) | null = null;
  readonly #port: FramePort;
  readonly #client: Client;

  constructor(private readonly options: ModbusSessionOptions) {
    this.#port = new FramePort((bytes) => options.link.write(bytes));
    this.#client = new MB.default(this.#port);
    this.#client.open();
  }

  get inStep(): boolean {
    return this.#state === 'ready' || this.#state === 'asking' || this.#state === 'gap';
  }

  /** @throws PortError */
  async open(down: (reason: string) => void): Promise<void> {
    await this.options.link.open({
      bytes: (bytes) => this.#take(bytes),
      down: (reason) => {
        this.#end(reason);
        down(reason);
      },
    });
  }

  /** Waits for a quiet line, then reads who is there; null when nobody answers. */
  greet(): Promise<readonly number[] | null> {
    return new Promise((resolve) => {
      this.#greeted = resolve;
      this.#listen();
    });
  }

  async close(): Promise<void> {
    this.#end('closed');
    await this.options.link.close();
  }

  ask(request: Request, done: RegistersDone): void {
    if (!this.inStep) done(null, silence(0, 'the instrument is out of step or gone'));
    else if (this.#queue.length >= MAX_WAITING) done(null, silence(0, 'too many requests wait'));
    else {
      this.#queue.push({ request, done });
      this.#next();
    }
  }

  /**
   * Next of all, and nothing that waits is sent any more. What was asked is still awaited: two stations talking at
   * once would spoil both. Out of step it is sent at once, without an answer being awaited.
   */
  urgent(request: Request): void {
    const waiting = this.#queue;
    this.#queue = [];
    if (this.inStep) {
      this.#urgent = request;
      this.#next();
    } else if (this.#state !== 'closed') this.#shout(request);
    for (const { done } of waiting) done(null, overtaken);
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

  #next(): void {
    if (this.#state !== 'ready') return;
    const question = this.#urgentQuestion() ?? this.#queue.shift();
    if (question === undefined) return;
    this.#state = 'asking';
    this.#asked = question;
    this.#await(() =>
      this.#lose(silence(this.options.answerMs, `no answer within ${this.options.answerMs} ms`)),
    );
    this.#send(question.request, (error, data) => this.#answered(question, error, data));
  }

  #urgentQuestion(): Question | null {
    const request = this.#urgent;
    this.#urgent = null;
    const tell = (trouble: Trouble | null): void => {
      if (trouble !== null) this.options.trouble(trouble);
    };
    return request === null ? null : { request, done: (_, trouble) => tell(trouble) };
  }

  /** A busy process finds the time over and the answer there at once: what is there is looked at first. */
  #await(late: () => void): void {
    const { clock, answerMs } = this.options;
    this.#cancel = clock.after(answerMs, () => {
      this.#cancel = clock.after(LOOK_AGAIN_MS, late);
    });
  }

  #answered(question: Question, error: Error | null, data: unknown): void {
    if (this.#asked !== question) return;
    const trouble = error === null ? null : troubleOf(error, question.request);
    // An exception is an answer in step; a damaged or foreign one is not.
    if (trouble !== null && trouble.kind !== 'modbus-exception') {
      this.#lose(trouble);
      return;
    }
    this.#asked = null;
    this.#rest();
    if (trouble !== null) question.done(null, trouble);
    else question.done('read' in question.request ? (data as { data: number[] }).data : [], null);
  }

  #take(bytes: Uint8Array): void {
    if (this.#state === 'listening') {
      this.#listen();
      return;
    }
    if (this.#state === 'closed') return;
    const more = this.#port.take(bytes);
    if (more > 0 && this.inStep)
      this.#lose({ kind: 'bad-answer', value: 0, text: `${more} bytes nobody asked for` });
  }

  #rest(): void {
    this.#cancel();
    this.#state = 'gap';
    this.#cancel = this.options.clock.after(this.options.gapMs, () => {
      this.#state = 'ready';
      this.#next();
    });
  }

  #lose(trouble: Trouble): void {
    const failed = [...(this.#asked ? [this.#asked] : []), ...this.#queue];
    if (this.#asked === null) this.options.trouble(trouble);
    this.#asked = null;
    this.#queue = [];
    this.#listen();
    if (this.#urgent !== null) this.#shout(this.#urgent);
    this.#urgent = null;
    for (const { done } of failed) done(null, trouble);
  }

  /** Until the line is quiet; then only the identity read before begins it anew. */
  #listen(): void {
    if (this.#state === 'closed' && this.#greeted === null) return;
    this.#cancel();
    this.#port.forget();
    this.#state = 'listening';
    this.#cancel = this.options.clock.after(this.options.answerMs, () => {
      this.#state = 'greeting';
      this.#await(() => this.#unanswered());
      this.#send(this.options.identity, (error, data) => {
        if (this.#state !== 'greeting') return;
        if (error === null) this.#introduced((data as { data: number[] }).data);
        else this.#unanswered();
      });
    });
  }

  #introduced(registers: readonly number[]): void {
    const text = registers.join();
    if (this.#identity !== '' && text !== this.#identity) {
      this.options.trouble({ kind: 'bad-answer', value: 0, text: 'another instrument answers' });
      this.#listen();
      return;
    }
    this.#identity = text;
    this.#rest();
    this.#tellGreeted(registers);
  }

  #unanswered(): void {
    if (this.#greeted === null) this.#listen();
    else {
      this.#cancel();
      this.#state = 'closed';
      this.#tellGreeted(null);
    }
  }

  #tellGreeted(registers: readonly number[] | null): void {
    const tell = this.#greeted;
    this.#greeted = null;
    tell?.(registers);
  }

  #end(reason: string): void {
    this.#cancel();
    this.#state = 'closed';
    this.#port.forget();
    const failed = [...(this.#asked ? [this.#asked] : []), ...this.#queue];
    this.#asked = null;
    this.#queue = [];
    for (const { done } of failed) done(null, silence(0, reason));
    this.#tellGreeted(null);
  }
}

const silence = (value: number, text: string): Trouble => ({ kind: 'no-answer', value, text });

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
