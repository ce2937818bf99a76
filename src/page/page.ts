/** Lays the page together around a stand. */
import type { FastifyInstance } from 'fastify';
import type { Clock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import type { Exercises, Stand } from '../supervisor/stand.js';
import type { FaultsKnown } from './about.js';
import type { Snapshot } from './api.js';
import type { Asset } from './assets.js';
import type { Context } from './context.js';
import { Control } from './control.js';
import type { Place } from './guards.js';
import { Hub } from './hub.js';
import { Orders } from './orders.js';
import { nameKey, People } from './people.js';
import { benchOf } from './routes-act.js';
import { controlOf } from './routes-people.js';
import { pageServer } from './server.js';
import { snapshotOf } from './snapshot.js';
import { Watch } from './watch.js';

export interface PageOptions {
  readonly stand: Stand;
  /** Real time, whatever the stand runs on. */
  readonly clock: Clock;
  readonly diagnostics: Diagnostics;
  readonly software: string;
  readonly caution: readonly string[];
  readonly place: Place;
  readonly newSecret: () => string;
  readonly exercises?: Exercises | null;
  readonly faults?: FaultsKnown;
  readonly assets: readonly Asset[];
  readonly scriptHashes: readonly string[];
  readonly requestsAMinute?: number;
  readonly tls?: { readonly cert: string; readonly key: string } | undefined;
}

export interface Page {
  readonly app: FastifyInstance;
  readonly context: Context;
  /** Ends what is served; the stand goes on. */
  close(): Promise<void>;
}

export async function makePage(options: PageOptions): Promise<Page> {
  const { stand, clock, exercises = null, diagnostics, software, caution, place } = options;
  const watch = new Watch(stand, clock, diagnostics);
  const people = new People(clock, options.newSecret);
  const mayHold = (name: string): boolean =>
    people.list.some((p) => nameKey(p.name) === nameKey(name) && p.role !== 'watcher');
  const control = new Control({ awayMs: (name) => hub.awayMs(name), mayHold });
  const look = (n: number): Snapshot =>
    snapshotOf(stand, watch, { n, control: controlOf(context), bench: benchOf(context) });
  const hub = new Hub(clock, watch, look, diagnostics);
  const orders = new Orders(stand, control, watch);
  const context: Context = {
    ...{ stand, clock, diagnostics, software, caution, place, exercises },
    ...{ people, control, watch, hub, orders },
  };
  exercises?.listen(() => {
    const { state } = exercises;
    if (state?.debrief != null)
      watch.tell(
        'exercise',
        `${state.title}: ${state.debrief.reached ? 'reached' : 'not reached'}; see the debrief`,
      );
  });
  const { assets, scriptHashes, requestsAMinute, tls, faults } = options;
  const app = await pageServer({
    ...{ context, look, assets, scriptHashes, tls },
    ...(faults === undefined ? {} : { faults }),
    ...(requestsAMinute === undefined ? {} : { requestsAMinute }),
  });
  return {
    app,
    context,
    async close() {
      hub.stop();
      watch.stop();
      await app.close();
    },
  };
}
