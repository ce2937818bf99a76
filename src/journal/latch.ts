/**
 * The trip latch of one rig on disk, and the mark of a session under way. It survives the process: a trip
 * stays until a named person acknowledges it, and a session that ended without a record of its end while
 * something was live counts as one.
 */
import { join } from 'node:path';
import { z } from 'zod';
import { filesOnDisk, type SmallFiles } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';

const tripSchema = z.object({
  code: z.string(),
  phase: z.string(),
  journal: z.string(),
  wallMs: z.number(),
  /** null until the session has recorded its end. */
  provenDead: z.boolean().nullable(),
  /** Codes found in that session, for judging what its readings are worth. */
  found: z.array(z.string()),
});
const latchSchema = z.object({
  version: z.literal(1),
  rig: z.string(),
  /** A session under way, or one that never recorded its end. */
  open: z.object({ journal: z.string(), wallMs: z.number(), energised: z.boolean() }).nullable(),
  trip: tripSchema.nullable(),
  /** Acknowledged here, but the device, which was not connected, still holds its own latch. */
  owedToDevice: z.object({ by: z.string(), wallMs: z.number() }).nullable(),
  /** The last acknowledgement, for the record. */
  acknowledged: z.object({ by: z.string(), wallMs: z.number(), code: z.string() }).nullable(),
});
export type LatchState = z.infer<typeof latchSchema>;

export class LatchFile {
  readonly path: string;
  #state: LatchState;

  /** @throws InputError when the file is there but cannot be understood: an unreadable latch is never "no latch" */
  constructor(
    readonly folder: string,
    rig: string,
    private readonly files: SmallFiles = filesOnDisk,
  ) {
    this.path = join(folder, `${rig}.latch.json`);
    this.#state = read(this.path, files) ?? {
      version: 1,
      rig,
      open: null,
      trip: null,
      owedToDevice: null,
      acknowledged: null,
    };
  }

  get state(): LatchState {
    return this.#state;
  }

  /** True while nothing may start: a trip, or a session left unfinished while something was live. */
  get latched(): boolean {
    return this.#state.trip !== null || this.#state.open?.energised === true;
  }

  begin(journal: string, wallMs: number): void {
    this.#write({ ...this.#state, open: { journal, wallMs, energised: false } });
  }

  energised(): void {
    const { open } = this.#state;
    if (open !== null && !open.energised) this.#write({ ...this.#state, open: { ...open, energised: true } });
  }

  trip(code: string, phase: string, journal: string, wallMs: number): void {
    if (this.#state.trip === null)
      this.#write({ ...this.#state, trip: { code, phase, journal, wallMs, provenDead: null, found: [] } });
  }

  /** The session has recorded its end. */
  end(provenDead: boolean, found: readonly string[]): void {
    const { trip } = this.#state;
    this.#write({
      ...this.#state,
      open: null,
      trip: trip === null ? null : { ...trip, provenDead, found: [...new Set(found)] },
    });
  }

  acknowledge(by: string, wallMs: number, deviceCleared: boolean): void {
    const code =
      this.#state.trip?.code ?? (this.#state.open !== null ? 'unfinished-journal' : 'device-latched');
    this.#write({
      ...this.#state,
      open: null,
      trip: null,
      acknowledged: { by, wallMs, code },
      owedToDevice: deviceCleared ? null : { by, wallMs },
    });
  }

  deviceCleared(): void {
    if (this.#state.owedToDevice !== null) this.#write({ ...this.#state, owedToDevice: null });
  }

  #write(next: LatchState): void {
    this.files.write(this.path, `${JSON.stringify(next, null, 2)}\n`);
    this.#state = next;
  }
}

function read(path: string, files: SmallFiles): LatchState | null {
  const text = files.read(path);
  if (text === null) return null;
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch {
    data = null;
  }
  const parsed = latchSchema.safeParse(data);
  if (!parsed.success) {
    throw new InputError(
      `${path}: the trip latch cannot be read; expected the latch file loopwarden wrote. ` +
        'Treat the rig as latched: have a competent person prove it dead, then remove the file.',
    );
  }
  return parsed.data;
}
