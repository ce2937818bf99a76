/**
 * Which decoded frames count: only those of the session in force, each sequence number once and rising. Keeps
 * the count of everything it turned away and of the numbers it never saw, by kind (repetition, deletion,
 * insertion, resequencing, corruption, masquerade).
 */
import type { Decoded, Reject, ToDevice, ToSupervisor } from './frames.js';
import { REJECTS } from './frames.js';

export class FrameGate<B extends ToDevice | ToSupervisor> {
  /** Rejected lines by reason. */
  readonly rejects: Record<Reject, number>;
  /** All rejected lines. */
  rejected = 0;
  /** Sequence numbers that never came. */
  missing = 0;
  /** Last sequence number taken; 0 before the first. */
  lastSeq = 0;

  /** @param nonce session to take frames of; null takes none until `adopt`. */
  constructor(
    private readonly decode: (line: string) => Decoded<B>,
    private nonce: string | null,
  ) {
    this.rejects = Object.fromEntries(REJECTS.map((why) => [why, 0])) as Record<Reject, number>;
  }

  get session(): string | null {
    return this.nonce;
  }

  /** Takes frames of this session from now on, after `lastSeq`. Counts start again. */
  adopt(nonce: string, lastSeq: number): void {
    this.nonce = nonce;
    this.lastSeq = lastSeq;
    this.missing = 0;
    this.rejected = 0;
    for (const why of REJECTS) this.rejects[why] = 0;
  }

  accept(line: string): Decoded<B> {
    return this.check(this.decode(line));
  }

  /** The same for a line decoded already. */
  check(decoded: Decoded<B>): Decoded<B> {
    if (!decoded.ok) return this.turnAway(decoded.why);
    const { nonce, seq } = decoded.frame;
    if (nonce !== this.nonce) return this.turnAway('wrong-nonce');
    if (seq <= this.lastSeq) return this.turnAway('repeated-or-old-sequence');
    this.missing += seq - this.lastSeq - 1;
    this.lastSeq = seq;
    return decoded;
  }

  turnAway(why: Reject): { readonly ok: false; readonly why: Reject } {
    this.rejects[why]++;
    this.rejected++;
    return { ok: false, why };
  }
}
