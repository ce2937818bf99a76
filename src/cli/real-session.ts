/** What `run`, `acknowledge` and `free-plug` share: a session over serial ports in real time, to its end. */
import path from 'node:path';
import type { Wish } from '../checks/check.js';
import { isoOf, realClock } from '../host/clock.js';
import { type Diagnostics, quiet } from '../host/diagnostics.js';
import { freeName, makeFolder, newestInto, readIfThere, userStateFolder } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { openFileStore } from '../host/journal-store.js';
import { newNonce, osRandom } from '../host/random.js';
import { SOFTWARE } from '../host/version.js';
import type { Signing } from '../journal/keys.js';
import { LatchFile } from '../journal/latch.js';
import type { Planned } from '../journal/planned.js';
import type { LoadedRig } from '../rig/load.js';
import type { Observing } from '../supervisor/observing.js';
import type { Outcome } from '../supervisor/outcome.js';
import { Runner } from '../supervisor/runner.js';
import type { PersonOrder, Progress } from '../supervisor/session-types.js';
import { supervisorLinks } from './ports.js';

export interface RealOptions {
  readonly loaded: LoadedRig;
  readonly ports: readonly string[];
  readonly out?: string | undefined;
  readonly state?: string | undefined;
  readonly by: string;
  readonly order: PersonOrder['order'];
  readonly measuredDead?: boolean;
  /** See observing.ts; only `prove` asks for it. */
  readonly observing?: Observing | undefined;
  readonly planned?: Planned | undefined;
  readonly signing?: Signing | undefined;
  /** Where the newest seal is kept besides, so that a tail cut off shows. */
  readonly headFile?: string | undefined;
  readonly diagnostics?: Diagnostics;
  readonly wish: Wish;
  onProgress(what: Progress, runner: Runner): void;
  /** Called before the ports are opened, so that no signal is missed. */
  onReady?(runner: Runner): void;
  /** Every port is open and the order was given. */
  onOpened?(): void;
}

/** Where latches and, unless told otherwise, journals are kept. */
export const stateFolder = (given: string | undefined): string => given ?? userStateFolder();

export interface RealResult {
  readonly outcome: Outcome;
  /** An order that starts no session (acknowledge, free the plug) was carried out. */
  readonly carriedOut: boolean;
  /** The supervisor itself failed; devices were told to make safe. */
  readonly fault: Error | null;
  /** Last seal of the journal. */
  readonly head: string;
}

/** One line, written over: which journal, how many records, and the seal over them. */
function headKeeper(file: string, journal: string, diagnostics: Diagnostics) {
  const there = readIfThere(file);
  // Given the wrong path this would write over a key, a rig or a journal.
  if (there !== null && !/^\{"journal":.*"head":"[0-9a-f]{64}"\}\n$/.test(there))
    throw new InputError(
      `--head-file ${file}: there is a file by that name that is no head of a journal; give another`,
    );
  const keep = newestInto(file, (error) =>
    diagnostics.error({ why: String(error) }, 'the head cannot be kept elsewhere'),
  );
  return (head: string, upTo: number): void => keep(`${JSON.stringify({ journal, upTo, head })}\n`);
}

/** @throws InputError, PortError before anything is ordered */
export async function runReal(options: RealOptions): Promise<RealResult> {
  const { loaded, by, order, wish } = options;
  const { rig } = loaded;
  const { headFile, diagnostics = quiet } = options;
  const links = supervisorLinks(options.ports, loaded, diagnostics);
  const state = stateFolder(options.state);
  const latch = new LatchFile(state, rig.name);
  const folder = options.out ?? path.join(state, 'journals');
  makeFolder(folder);
  const stamp = isoOf(realClock.wallMs()).replace(/[:.]/g, '-');
  const store = openFileStore(freeName(folder, `${rig.name}-${stamp}`, '.ndjson'));
  const onHead = headFile === undefined ? undefined : headKeeper(headFile, store.path, diagnostics);
  return new Promise((resolve, reject) => {
    let done = false;
    const runner: Runner = new Runner({
      rig,
      rigHash: loaded.hash,
      software: SOFTWARE,
      clock: realClock,
      clockKind: 'real',
      links,
      store,
      latch,
      nonce: newNonce(osRandom),
      by,
      wish,
      order,
      diagnostics: options.diagnostics ?? quiet,
      ...(options.signing ? { signing: options.signing } : {}),
      ...(onHead === undefined ? {} : { onHead }),
      measuredDead: options.measuredDead ?? false,
      ...(options.observing ? { observing: options.observing } : {}),
      ...(options.planned ? { planned: options.planned } : {}),
      onProgress: (what) => options.onProgress(what, runner),
      onEnded: (outcome) => {
        if (done) return;
        done = true;
        // The last frames leave and the end is on disk before the ports close.
        realClock.after(2 * rig.link.periodMs, () => {
          void runner.close().then(() => {
            const { carriedOut } = runner.session;
            deafen();
            resolve({ outcome, carriedOut, fault: runner.fault, head: runner.head });
          });
        });
      },
    });
    const last = (error: Error): void => runner.fail(error);
    const rejected = (reason: unknown): void =>
      last(reason instanceof Error ? reason : new Error(String(reason)));
    const deafen = (): void => {
      process.off('uncaughtException', last);
      process.off('unhandledRejection', rejected);
    };
    process.on('uncaughtException', last);
    process.on('unhandledRejection', rejected);
    options.onReady?.(runner);
    runner.open().then(
      () => options.onOpened?.(),
      (error: unknown) => {
        deafen();
        reject(error);
      },
    );
  });
}
