/**
 * Writes a journal: numbers the records, seals the blocks, groups the syncs. One sync is in flight; what is
 * asked meanwhile is served by the next one. The writer has no clock: the caller says what time it is.
 *
 * `record` only remembers; `flush` hands the bytes to the store. The supervisor flushes at the end of each
 * step, after its frames have left, so that making safe never waits for a disk.
 */
import type { JournalStore } from '../host/journal-store.js';
import {
  encodeRecord,
  FIRST_SEAL,
  hashBlock,
  MAX_BLOCK_RECORDS,
  type RecordKind,
  type SealBody,
  sealOpening,
} from './format.js';

/** Closes a block: its hash, and in a signed journal the signature. */
export type Sealer = (previousHash: string, block: readonly string[]) => SealBody;

export const hashOnly: Sealer = (previousHash, block) => ({ hash: hashBlock(previousHash, block.join('')) });

export class JournalWriter {
  #next = 0;
  #block: string[] = [];
  #unwritten: string[] = [];
  #seal = FIRST_SEAL;
  /** Last seal the store has confirmed, and the record it stands in. */
  #durable = { head: FIRST_SEAL, upTo: -1 };
  #syncing = false;
  #wanted = false;
  #failed: Error | null = null;
  /** A sealer that has failed is not asked again: what follows stands bare, which an audit tells. */
  #unsealable = false;
  #syncedUpTo = -1;
  #originMs: number | null = null;
  #lastNs = 0;
  /** Time of the oldest record that is not yet confirmed; null when all are. */
  #oldestMs: number | null = null;
  #unsyncedSinceRequestMs: number | null = null;

  /**
   * @param onSynced called when the store has confirmed every record up to and including `upTo`
   * @param onFailed called once, at the first error
   */
  constructor(
    readonly store: JournalStore,
    private readonly onSynced: (upTo: number) => void,
    private readonly onFailed: (error: Error) => void,
    private readonly sealer: Sealer = hashOnly,
  ) {}

  get failed(): Error | null {
    return this.#failed;
  }
  get syncedUpTo(): number {
    return this.#syncedUpTo;
  }
  /** Sequence of the last record written, −1 before the first. */
  get last(): number {
    return this.#next - 1;
  }
  /** Last seal the store has confirmed: one noted elsewhere that is not in the file would look like a cut tail. */
  get durable(): { readonly head: string; readonly upTo: number } {
    return this.#durable;
  }
  /** Last seal: keep it elsewhere and a cut tail is seen. Once anything has failed, the last that is durable. */
  get head(): string {
    const whole = this.#failed === null && (this.store.failure ?? null) === null;
    return whole ? this.#seal : this.#durable.head;
  }

  /** Age of the oldest unconfirmed record, ms. */
  lagMs(nowMs: number): number {
    return this.#oldestMs === null ? 0 : nowMs - this.#oldestMs;
  }

  record(nowMs: number, kind: RecordKind, body: unknown): number {
    const tNs = this.#timeNs(nowMs);
    this.#lastNs = tNs;
    const n = this.#next++;
    const line = encodeRecord(n, tNs, kind, body);
    this.#block.push(line);
    this.#unwritten.push(line);
    this.#oldestMs ??= nowMs;
    this.#unsyncedSinceRequestMs ??= nowMs;
    if (this.#unsealable) this.#block = [];
    else if (this.#block.length >= MAX_BLOCK_RECORDS && kind !== 'seal') this.seal(nowMs);
    return n;
  }

  #timeNs(nowMs: number): number {
    this.#originMs ??= nowMs;
    return Math.max(this.#lastNs, Math.round((nowMs - this.#originMs) * 1e6));
  }

  /** Hands everything recorded so far to the store. */
  flush(): void {
    if (this.#unwritten.length === 0) return;
    this.store.append(this.#unwritten.join(''));
    this.#unwritten = [];
  }

  /** Closes the block, if it holds anything, and returns the seal. */
  seal(nowMs: number): string {
    if (this.#unsealable) return this.#seal;
    if (this.#block.length === 0 || (this.#block.length === 1 && this.#block[0]?.includes('"k":"seal"')))
      return this.#seal;
    const opening = sealOpening(this.#next, this.#timeNs(nowMs));
    let seal: SealBody;
    try {
      seal = this.sealer(this.#seal, [...this.#block, opening]);
    } catch (error) {
      // Whoever records must not be thrown out of what it does, least of all out of making safe. Nothing more can
      // become durable under a seal, so nothing energising leaves any more; the next observation shows the failure.
      this.#unsealable = true;
      this.#block = [];
      this.#failed ??= error instanceof Error ? error : new Error(String(error));
      return this.#seal;
    }
    this.#block = [];
    this.#seal = seal.hash;
    this.record(nowMs, 'seal', seal);
    return seal.hash;
  }

  /** Seals and asks the store to make everything so far durable; `onSynced` follows. */
  requestSync(nowMs: number): void {
    if (this.#failed !== null) {
      // Nobody waits for it any more; what can still be handed over is.
      this.flush();
      return;
    }
    if (this.#syncing) {
      this.#wanted = true;
      return;
    }
    this.#sealAndSync(nowMs);
  }

  #sealAndSync(nowMs: number): void {
    this.seal(nowMs);
    // What no seal covers is not reported as durable: an energising order must not leave on it.
    if (this.#unsealable) this.flush();
    else this.#startSync(nowMs);
  }

  #startSync(nowMs: number): void {
    this.flush();
    const upTo = this.last;
    const head = this.#seal;
    this.#syncing = true;
    this.#wanted = false;
    this.#unsyncedSinceRequestMs = null;
    this.store.sync((error) => {
      this.#syncing = false;
      if (error !== null) {
        if (this.#failed === null) {
          this.#failed = error;
          this.onFailed(error);
        }
        return;
      }
      this.#syncedUpTo = upTo;
      this.#durable = { head, upTo };
      this.#oldestMs = this.#unsyncedSinceRequestMs;
      this.onSynced(upTo);
      if (this.#wanted) {
        this.#sealAndSync(this.#oldestMs ?? nowMs);
      }
    });
  }
}
