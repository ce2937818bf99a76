/** A link over a serial port or a pseudo-terminal: lines cut from its bytes. */
import { ReadlineParser } from '@serialport/parser-readline';
import { LineGuard } from './guard.js';
import { type Link, type LinkEvents, MAX_LINE_BYTES } from './link.js';
import { sendable } from './memory.js';
import { SerialBytes, type SerialOptions } from './serial-bytes.js';

/** The lines of one opening, until it ends. */
interface Cut {
  readonly guard: LineGuard;
  isOver: boolean;
}

export class SerialLink implements Link {
  readonly port: string;
  readonly path: string;
  readonly #bytes: SerialBytes;
  #cut: Cut | null = null;
  /** Of earlier openings. */
  readonly #droppedBefore = { lines: 0, bytes: 0 };

  constructor(options: SerialOptions) {
    this.port = options.port;
    this.path = options.path;
    this.#bytes = new SerialBytes(options);
  }

  get generation(): number {
    return this.#bytes.generation;
  }

  get dropped(): { readonly lines: number; readonly bytes: number } {
    const { lines, bytes } = this.#cut?.guard.dropped ?? { lines: 0, bytes: 0 };
    return { lines: this.#droppedBefore.lines + lines, bytes: this.#droppedBefore.bytes + bytes };
  }

  async open(events: LinkEvents): Promise<void> {
    const cut: Cut = { guard: new LineGuard(MAX_LINE_BYTES), isOver: false };
    // latin1: one character a byte, so that damage stays visible to the codec.
    const parser = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' });
    parser.on('data', (line: string) => {
      if (!cut.isOver) events.line(line);
    });
    cut.guard.pipe(parser);
    await this.#bytes.open({
      bytes: (bytes) => cut.guard.write(bytes),
      down: (reason) => {
        this.#end(cut);
        events.down(reason);
      },
    });
    if (!cut.isOver) this.#cut = cut;
  }

  send(line: string): boolean {
    return sendable(line) && this.#bytes.write(Buffer.from(`${line}\n`, 'latin1'));
  }

  close(): Promise<void> {
    // What is still between the bytes and the lines is not delivered any more.
    if (this.#cut !== null) this.#end(this.#cut);
    return this.#bytes.close();
  }

  #end(cut: Cut): void {
    if (cut.isOver) return;
    cut.isOver = true;
    if (this.#cut === cut) this.#cut = null;
    this.#droppedBefore.lines += cut.guard.dropped.lines;
    this.#droppedBefore.bytes += cut.guard.dropped.bytes;
  }
}
