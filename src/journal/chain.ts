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
  /**
   * Our own copy of the rest and the piece at hand, with room for a hash in front: a block that lies in it whole is
   * hashed at once with the previous seal written before it, over bytes that were hashed already. That costs half of
   * what an object for each block does.
   */
  #work = Buffer.alloc(0);
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
    const data = this.#laidOut(piece);
    const before = this.#bytes - HASH_CHARS;
    const end = Math.max(HASH_CHARS, data.lastIndexOf(NEWLINE) + 1);
    let from = HASH_CHARS;
    let at = data.indexOf(MARK, from);
    while (at >= 0 && at < end) {
      const start = Math.max(HASH_CHARS, data.lastIndexOf(NEWLINE, at) + 1);
      const stop = data.indexOf(NEWLINE, at) + 1;
      const opening = at + MARK.length;
      const line = data.toString('latin1', start, stop);
      const sig = SEAL.exec(line);
      if (sig !== null) {
        const written = line.slice(opening - start, opening - start + HASH_CHARS);
        this.#close(line, written, sig[1], this.#hashOf(data, from, opening), before + stop);
        from = start;
      }
      at = data.indexOf(MARK, stop);
    }
    if (from < end) this.#begun().update(data.subarray(from, end));
    this.#bytes = before + end;
    this.#rest = Buffer.from(data.subarray(end));
    if (this.#rest.length > MAX_LINE_BYTES) {
      this.#fault({ n: -1, atByte: this.#bytes, kind: 'too-long' });
      this.#bytes += this.#rest.length;
      this.#rest = Buffer.alloc(0);
    }
  }

  /** What is left of the last piece and this one, behind room for a hash. */
  #laidOut(piece: Buffer): Buffer {
    const pieceAt = HASH_CHARS + this.#rest.length;
    const length = pieceAt + piece.length;
    if (this.#work.length < length) this.#work = Buffer.alloc(length + (1 << 16));
    this.#rest.copy(this.#work, HASH_CHARS);
    piece.copy(this.#work, pieceAt);
    return this.#work.subarray(0, length);
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
    if (this.#hash === null) {
      data.write(this.#seal, from - HASH_CHARS, 'latin1');
      return hashOnce('sha256', data.subarray(from - HASH_CHARS, to), 'hex');
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
