/**
 * A line-based link to one port. Memory and serial implementations pass one contract suite.
 *
 * Promise: a line handed to `send` is delivered whole, in order, or not at all, and only to the opening of
 * the port it was sent on; after `close`, or once the port is down, nothing is delivered any more. Lines are
 * bounded; what arrives longer is dropped and counted, and the line after it is read normally.
 */

/** Longest line in bytes, terminator excluded. Bounds every buffer on the way. */
export const MAX_LINE_BYTES = 2048;

export interface LinkEvents {
  /** One received line without its terminator, printable ASCII not guaranteed. */
  line(text: string): void;
  /** The port is gone and will not come back by itself. Called at most once per opening. */
  down(reason: string): void;
}

export interface Link {
  /** Name of the port in the rig. */
  readonly port: string;
  /** Counts openings; a line of an earlier generation is never delivered to a later one. */
  readonly generation: number;
  /** @throws PortError when the port is absent, busy or refused. */
  open(events: LinkEvents): Promise<void>;
  /** Returns false when the link is down or its bounded output queue is full: the line was not sent. */
  send(line: string): boolean;
  /** Stops delivery at once; resolves when the port is released. Safe to call twice. */
  close(): Promise<void>;
  /** Lines dropped because they exceeded MAX_LINE_BYTES, and bytes thrown away. */
  readonly dropped: { readonly lines: number; readonly bytes: number };
}

export interface ByteEvents {
  bytes(bytes: Uint8Array): void;
  /** As of a link. */
  down(reason: string): void;
}

/** A port as a stream of bytes, for what has no lines. The promises are those of a link. */
export interface ByteLink {
  readonly port: string;
  /** @throws PortError when the port is absent, busy or refused. */
  open(events: ByteEvents): Promise<void>;
  /** Returns false when the port is down or its bounded output queue is full: nothing was sent. */
  write(bytes: Uint8Array): boolean;
  close(): Promise<void>;
}

/** A port that cannot be used, in words for people: which, why, what to do. */
export class PortError extends Error {
  override readonly name = 'PortError';
  constructor(
    readonly port: string,
    readonly path: string,
    readonly why: string,
    readonly remedy: string,
  ) {
    super(`port ${port} (${path}): ${why}; ${remedy}`);
  }
}
