/**
 * Stands before the line parser, which has no bound of its own: passes on whole lines only, and throws away
 * any run of bytes longer than a line may be, up to and including its terminator. Holds one line at most.
 */
import { Transform, type TransformCallback } from 'node:stream';

const LF = 10;

export class LineGuard extends Transform {
  readonly dropped = { lines: 0, bytes: 0 };
  private readonly run: Buffer;
  private length = 0;
  /** In the middle of a run that is being thrown away. */
  private dropping = false;

  constructor(maxLineBytes: number) {
    super();
    this.run = Buffer.allocUnsafe(maxLineBytes + 1);
  }

  override _transform(chunk: Buffer, _encoding: BufferEncoding, done: TransformCallback): void {
    let from = 0;
    while (from < chunk.length) {
      const lf = chunk.indexOf(LF, from);
      const to = lf < 0 ? chunk.length : lf + 1;
      this.pass(chunk, from, to, lf >= 0);
      from = to;
    }
    done();
  }

  private pass(chunk: Buffer, from: number, to: number, ends: boolean): void {
    const bytes = to - from;
    // The terminator may take the last place, never a byte of the line.
    const fits = this.length + bytes <= this.run.length - (ends ? 0 : 1);
    if (this.dropping || !fits) {
      this.dropped.bytes += this.length + bytes;
      if (!this.dropping) this.dropped.lines++;
      this.length = 0;
      this.dropping = !ends;
      return;
    }
    chunk.copy(this.run, this.length, from, to);
    this.length += bytes;
    if (!ends) return;
    this.push(Buffer.from(this.run.subarray(0, this.length)));
    this.length = 0;
  }
}
