/**
 * Verifies the chain of seals over the raw bytes of a journal, piece by piece and at the speed of the hash: only
 * seals are looked at, every other byte is merely hashed. What the records say is not read here.
 */
import { createHash, type Hash, hash as hashOnce } from 'node:crypto';
import { FIRST_SEAL } from './format.js';
import type { Verifier } from './keys.js';

/** In every seal; found ten times as fast as its kind, whose letters begin every record. */
const MARK = Buffer.from('l","b":{"hash":"');
const NEWLINE = 0x0a;
/** Larger blocks are hashed as they come. */
const ONCE_BYTES = 1 << 16;
/** More than this tells nothing new. */
const MOST_FAULTS = 1000;
/** A record longer than this was not written by this program. */
export const MAX_LINE_BYTES = 4 << 20;
const SEAL =
  /^\{"n":\d+,"t":\d+,"k":"seal","b":\{"hash":"[0-9a-f]{64}"(?:,"sig":"([A-Za-z0-9+/]{86}==)")?\}\}\n$/;
const NUMBER = /^\{"n":(\d+)/;
const HASH_CHARS = 64;

export interface SealFault {
  /** Number of the record that is the seal; −1 where a line is too long to be one. */
  readonly n: number;
  readonly atByte: number;
  readonly kind: 'hash' | 'signature' | 'unsigned' | 'too-long';
}

export class Chain {
  /** Of a block that began in an earlier piece; null while the open block lies in the piece at hand. */
  #hash: Hash | null = null;
  /** A previous seal with a block behind it: hashed at once, which costs half of what an object for each does. */
  readonly #scratch = Buffer.allocUnsafe(FIRST_SEAL.length + ONCE_BYTES);
  #seal = FIRST_SEAL;
  #rest: Buffer = Buffer.alloc(0);
  #bytes = 0;
  /** Bytes of the file up to and including the last seal. */
  sealedBytes = 0;
  seals = 0;
  signatures = 0;
  readonly faults: SealFault[] = [];
  faultCount = 0;
  #headMet = false;

  /**
   * @param verifier checks signatures; without one they are only counted
   * @param head a seal noted elsewhere, which must be met
   */
  constructor(
    private readonly verifier: Verifier | null = null,
    private readonly wantedHead: string | null = null,
  ) {}

  /** The last seal met: what to keep elsewhere. */
  get head(): string {
    return this.#seal;
  }
  get headMet(): boolean {
    return this.#headMet;
  }
  /** Bytes after the last seal: nothing vouches for them. */
  get unsealedBytes(): number {
    return this.#bytes + this.#rest.length - this.sealedBytes;
  }

  feed(piece: Buffer): void {
    const data = this.#rest.length > 0 ? Buffer.concat([this.#rest, piece]) : piece;
    const end = data.lastIndexOf(NEWLINE) + 1;
    let from = 0;
    let at = data.indexOf(MARK);
    while (at >= 0 && at < end) {
      const start = data.lastIndexOf(NEWLINE, at) + 1;
      const stop = data.indexOf(NEWLINE, at) + 1;
      const opening = at + MARK.length;
      const line = data.toString('latin1', start, stop);
      const sig = SEAL.exec(line);
      if (sig !== null) {
        const written = line.slice(opening - start, opening - start + HASH_CHARS);
        this.#close(line, written, sig[1], this.#hashOf(data, from, opening), this.#bytes + stop);
        from = start;
      }
      at = data.indexOf(MARK, stop);
    }
    if (from < end) this.#begun().update(data.subarray(from, end));
    this.#bytes += end;
    this.#rest = Buffer.from(data.subarray(end));
    if (this.#rest.length > MAX_LINE_BYTES) {
      this.#fault({ n: -1, atByte: this.#bytes, kind: 'too-long' });
      this.#bytes += this.#rest.length;
      this.#rest = Buffer.alloc(0);
    }
  }

  /** A signature is asked for, and no seal has one. */
  get lacksSignature(): boolean {
    return this.verifier !== null && this.signatures === 0;
  }

  #fault(fault: SealFault): void {
    this.faultCount++;
    if (this.faults.length < MOST_FAULTS) this.faults.push(fault);
  }

  #faulty(line: string, kind: SealFault['kind']): void {
    this.#fault({ n: Number(NUMBER.exec(line)?.[1]), atByte: this.sealedBytes, kind });
  }

  #begun(): Hash {
    this.#hash ??= createHash('sha256').update(this.#seal, 'ascii');
    return this.#hash;
  }

  #hashOf(data: Buffer, from: number, to: number): string {
    if (this.#hash === null && to - from <= ONCE_BYTES) {
      const length = this.#scratch.write(this.#seal, 'latin1');
      data.copy(this.#scratch, length, from, to);
      return hashOnce('sha256', this.#scratch.subarray(0, length + to - from), 'hex');
    }
    const hash = this.#begun().update(data.subarray(from, to)).digest('hex');
    this.#hash = null;
    return hash;
  }

  /** @param written the hash as the seal has it, @param computed as its block has it */
  #close(line: string, written: string, sig: string | undefined, computed: string, endByte: number): void {
    const { verifier } = this;
    if (computed !== written) this.#faulty(line, 'hash');
    if (sig !== undefined) this.signatures++;
    if (verifier !== null) {
      if (sig === undefined) this.#faulty(line, 'unsigned');
      else if (!verifier.holds(written, sig)) this.#faulty(line, 'signature');
    }
    this.seals++;
    this.#seal = written;
    if (written === this.wantedHead) this.#headMet = true;
    this.sealedBytes = endByte;
  }
}
