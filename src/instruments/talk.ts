/**
 * The seam between the adapter and what an instrument speaks. One instrument, one job at a time; whatever is asked
 * is answered by calling `done` once, in bounded time, also when the instrument is gone.
 */
import type { TagKind } from '../link/frames.js';

/** What went wrong with an instrument, in words and as it is tagged in the journal. */
export interface Trouble {
  readonly kind: Extract<
    TagKind,
    'no-answer' | 'bad-answer' | 'bad-crc' | 'scpi-error' | 'modbus-exception' | 'overload' | 'not-off'
  >;
  readonly value: number;
  readonly text: string;
}

/** By the names of the command map; NaN where the instrument cannot read. */
export type Readings = Readonly<Record<string, number>>;

/** What was found behind the port when it was opened. */
export interface Found {
  readonly model: string;
  readonly serial: string;
  readonly firmware: string;
  /** The output stood on: nobody knows since when. It has been ordered off. */
  readonly outputWasOn: boolean;
}

export type Told = (trouble: Trouble | null) => void;

export interface Talk {
  /**
   * Opens the port, makes sure who is there, and brings the instrument to the state the map wants.
   * @throws PortError in words for people; the port is closed again then
   */
  open(down: (reason: string) => void): Promise<Found>;
  output(on: boolean, done: Told): void;
  set(currentA: number, voltageV: number, done: Told): void;
  /** Output off, before everything that still waits: nothing that waits is sent any more. */
  offAtOnce(): void;
  /** Null when nothing was read. Readings may come with trouble: then some of them are NaN. */
  read(done: (readings: Readings | null, trouble: Trouble | null) => void): void;
  close(): Promise<void>;
}

/** Waited for its turn, and was overtaken by an order to switch off. */
export const overtaken: Trouble = {
  kind: 'no-answer',
  value: 0,
  text: 'not sent: an order to switch off came first',
};

/** An answer did not come while the port was opened; one lost answer is no reason to refuse an instrument. */
export class NoAnswer extends Error {
  override readonly name = 'NoAnswer';
}

/** Times an opening is begun anew after a lost answer. */
const OPENINGS = 3;

/**
 * Opens a conversation and prepares the instrument; it is closed again where that comes to nothing.
 * @throws what the last attempt threw, or what `refusal` makes of a silence that lasted
 */
export async function opened<T>(
  session: { open(down: (reason: string) => void): Promise<void>; close(): Promise<void> },
  down: (reason: string) => void,
  prepare: () => Promise<T>,
  refusal: (why: string) => Error,
): Promise<T> {
  await session.open(down);
  try {
    return await insisting(prepare, refusal);
  } catch (error) {
    await session.close();
    throw error;
  }
}

async function insisting<T>(prepare: () => Promise<T>, refusal: (why: string) => Error): Promise<T> {
  for (let left = OPENINGS - 1; ; left--) {
    try {
      return await prepare();
    } catch (error) {
      if (!(error instanceof NoAnswer)) throw error;
      if (left <= 0) throw refusal(error.message);
    }
  }
}
