/** The live page as the command serves it, on a simulated charger in this very process; and people who open it. */
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { FAULTS, type FaultDefinition } from '../../simulators/faults.js';
import { NOTICE_LINES } from '../../src/cli/notice.js';
import { pageAssets } from '../../src/cli/page-assets.js';
import { realClock } from '../../src/host/clock.js';
import { quiet } from '../../src/host/diagnostics.js';
import { newSecret } from '../../src/host/random.js';
import { SOFTWARE } from '../../src/host/version.js';
import type { PageEvent, PersonRole } from '../../src/page/api.js';
import { makePage, type Page as ServedPage } from '../../src/page/page.js';
import { ExerciseDesk } from '../../src/rehearsal/exercise-desk.js';
import { loadExercises } from '../../src/rehearsal/exercise-load.js';
import { faultsOf } from '../../src/rehearsal/fault-ask.js';
import { LiveBench } from '../../src/rehearsal/live-bench.js';
import { loadRig } from '../../src/rig/load.js';
import type { Phase } from '../../src/rig/roles.js';

/** Another address of this machine under which the page may be reached: where a proxy stands. */
export const BY_PROXY = '127.0.0.2';
/** More than any state takes on a busy machine; nothing here is judged by how long it takes. */
export const PATIENCE_MS = 60_000;
const LOOK_EVERY_MS = 20;

export class Served {
  private constructor(
    readonly state: string,
    readonly bench: LiveBench,
    private page: ServedPage,
    readonly port: number,
  ) {}

  static async start(speed: number): Promise<Served> {
    const state = mkdtempSync(path.join(tmpdir(), 'loopwarden-live-'));
    const bench = new LiveBench({ loaded: loadRig('depot-cable'), real: realClock, state, seed: 1 });
    bench.speed = speed;
    const page = await pageAround(bench, 0);
    return new Served(state, bench, page, (page.app.server.address() as AddressInfo).port);
  }

  get address(): string {
    return `http://127.0.0.1:${this.port}/`;
  }
  get origin(): string {
    return `http://127.0.0.1:${this.port}`;
  }
  get phase(): Phase {
    return this.bench.session?.phase ?? 'parked';
  }
  get events(): readonly PageEvent[] {
    return this.page.context.watch.events.after(0, 100_000);
  }
  get points(): readonly (readonly (number | null)[])[] {
    return this.page.context.watch.traces.from(0).points;
  }
  get control(): string | null {
    return this.page.context.control.holder;
  }
  /** Whether somebody by this name is heard of by the server as looking on. */
  watches(name: string): boolean {
    return this.page.context.hub.isWatching(name);
  }

  /** Of every session so far. */
  get journals(): string[] {
    const folder = path.join(this.state, 'journals');
    return readdirSync(folder)
      .filter((name) => name.endsWith('.ndjson'))
      .sort()
      .map((name) => readFileSync(path.join(folder, name), 'utf8'));
  }

  /** Bodies of the records of a kind, of the first session unless another is asked for. */
  records(kind: string, session = 0): { readonly [key: string]: unknown }[] {
    const lines = (this.journals[session] ?? '').split('\n').slice(0, -1);
    return lines
      .map((line) => JSON.parse(line) as { k: string; b: { [key: string]: unknown } })
      .filter(({ k }) => k === kind)
      .map(({ b }) => b);
  }
  /** What people ordered while the first session was under way. */
  get orders(): { readonly [key: string]: unknown }[] {
    return this.records('person').filter(({ order }) => order !== 'start');
  }
  /** In the simulated world itself, whatever is read of it. */
  get plugLocked(): boolean {
    return this.bench.world.parts.stand.locked;
  }

  /** A link to sign in by, as the command prints one. */
  link(role: PersonRole): string {
    const made = this.page.context.people.invite(role);
    if (made === null) throw new Error('no more invitations');
    return `${this.address}#invitation=${made.invitation}`;
  }

  /** Asked of the stand itself, whatever any page shows. @throws with `what` when it does not come */
  async until(what: string, is: () => boolean): Promise<void> {
    const endMs = realClock.nowMs() + PATIENCE_MS;
    while (!is()) {
      if (realClock.nowMs() > endMs) throw new Error(`never came: ${what}; it is ${this.phase}`);
      await new Promise<void>((resolve) => void realClock.after(LOOK_EVERY_MS, resolve));
    }
  }
  inPhase(phase: Phase): Promise<void> {
    return this.until(phase, () => this.phase === phase);
  }
  /** The session has ended and the next could begin. */
  atRest(): Promise<void> {
    return this.until('the end', () => this.bench.running === null);
  }

  /** The process that serves the page is another: it knows nobody. */
  async restart(): Promise<void> {
    await this.page.close();
    this.page = await pageAround(this.bench, this.port);
  }

  async close(): Promise<void> {
    await this.bench.close();
    await this.page.close();
    rmSync(this.state, { recursive: true, force: true });
  }
}

async function pageAround(bench: LiveBench, port: number): Promise<ServedPage> {
  const { assets, scriptHashes } = pageAssets();
  const faults = faultsOf(bench.loaded.rig).map((fault) => {
    const { unit, magnitude, text, part }: FaultDefinition = FAULTS[fault];
    return { fault, unit, magnitude, text, part: part ?? null };
  });
  const exercises = new ExerciseDesk(bench, loadExercises(bench.loaded));
  const page = await makePage({
    ...{ stand: bench, clock: realClock, diagnostics: quiet, software: SOFTWARE, caution: NOTICE_LINES },
    ...{ newSecret, assets, scriptHashes, faults, exercises },
    place: { host: '127.0.0.1', tls: false, names: [BY_PROXY] },
  });
  await page.app.listen({ host: '127.0.0.1', port });
  return page;
}
