/**
 * Writes one line byte by byte and seals it. A report has some hundred numbers: as text joined piece by piece it
 * was built three times over (the pieces, the whole, the check over it), here it is built once.
 */
import { Buffer } from 'node:buffer';
import { crc32cOf, crcText } from './crc32c.js';
import { MAX_LINE_BYTES } from './link.js';

const ZERO = 48;
const MINUS = 45;
const COMMA = 44;

export class LineWriter {
  /** Bytes beyond its end are not kept, only counted: `sealed` refuses the line then. */
  readonly #bytes = Buffer.alloc(MAX_LINE_BYTES);
  #at = 0;

  clear(): void {
    this.#at = 0;
  }

  /** Characters below 256. */
  text(text: string): void {
    for (let i = 0; i < text.length; i++) this.#bytes[this.#at++] = text.charCodeAt(i);
  }

  comma(): void {
    this.#bytes[this.#at++] = COMMA;
  }

  /** An integer; nothing for NaN, which is how "cannot be read" is written. */
  count(count: number): void {
    if (Number.isNaN(count)) return;
    if (count < 0) this.#bytes[this.#at++] = MINUS;
    let left = Math.abs(count);
    let digits = 1;
    for (let power = 10; power <= left; power *= 10) digits++;
    const end = this.#at + digits;
    for (let at = end - 1; at >= this.#at; at--) {
      const tens = Math.floor(left / 10);
      this.#bytes[at] = ZERO + (left - 10 * tens);
      left = tens;
    }
    this.#at = end;
  }

  /** The line with its check. @throws RangeError when it is over the line length */
  sealed(): string {
    const head = Math.min(this.#at, MAX_LINE_BYTES);
    const check = crcText(crc32cOf(this.#bytes, head));
    this.text('*');
    this.text(check);
    if (this.#at > MAX_LINE_BYTES) throw new RangeError(`frame of ${this.#at} bytes is over the line length`);
    return this.#bytes.toString('latin1', 0, this.#at);
  }
}
