/**
 * The live page around a simulated charger, on a clock that moves only when told to, asked without a socket: every
 * answer, and everything a request could have changed.
 */
import type { FastifyInstance, InjectOptions, LightMyRequestResponse } from 'fastify';
import { FAULTS } from '../../simulators/faults.js';
import type { Diagnostics } from '../../src/host/diagnostics.js';
import { filesInMemory } from '../../src/host/durable-file.js';
import type { PersonRole, Snapshot } from '../../src/page/api.js';
import { makePage, type Page, type PageOptions } from '../../src/page/page.js';
import { benchOf } from '../../src/page/routes-act.js';
import { controlOf } from '../../src/page/routes-people.js';
import { snapshotOf } from '../../src/page/snapshot.js';
import { ExerciseDesk } from '../../src/rehearsal/exercise-desk.js';
import { loadExercises } from '../../src/rehearsal/exercise-load.js';
import type { LiveBenchOptions } from '../../src/rehearsal/live-bench.js';
import { Driver } from '../sim/bench-driver.js';

export const HOST = 'localhost:0';
export const OURS = { 'x-loopwarden': 'page' };

export interface DeskOptions {
  readonly rig?: string;
  readonly page?: Partial<PageOptions>;
  readonly bench?: Partial<LiveBenchOptions>;
}

export interface Asked {
  readonly cookie?: string;
  readonly body?: unknown;
  readonly headers?: Record<string, string>;
}

export class Desk {
  failures: readonly string[] = [];
  /** Orders and changes that reached the stand and were not turned down there. */
  calls = 0;
  /** Added to the time on the wall, which nothing but signing in goes by. */
  wallOffsetMs = 0;
  #looks = 0;

  private constructor(
    readonly driver: Driver,
    readonly page: Page,
  ) {}

  static async open(state: string, { rig = 'depot-cable', page, bench }: DeskOptions = {}): Promise<Desk> {
    const driver = new Driver(state, rig, { latchFiles: filesInMemory(), ...bench });
    let count = 0;
    const wall = { offsetMs: () => 0 };
    const { real } = driver;
    const failures: string[] = [];
    const diagnostics: Diagnostics = {
      info() {},
      warn() {},
      error: (what, text) => void failures.push(`${text}: ${JSON.stringify(what)}`),
    };
    const made = await makePage({
      stand: driver.bench,
      exercises: new ExerciseDesk(driver.bench, loadExercises(driver.bench.loaded)),
      clock: {
        nowMs: () => real.nowMs(),
        after: (ms, run) => real.after(ms, run),
        wallMs: () => real.wallMs() + wall.offsetMs(),
      },
      diagnostics,
      software: 'loopwarden test',
      caution: ['Live DC kills.'],
      place: { host: '127.0.0.1', tls: false, names: [] },
      newSecret: () => `a-secret-of-a-test-${String(++count).padStart(6, '0')}`,
      faults: Object.entries(FAULTS).map(([fault, f]) => ({
        ...{ fault, unit: f.unit, magnitude: f.magnitude, text: f.text },
        part: ('part' in f ? f.part : undefined) ?? null,
      })),
      assets: [{ path: '/', type: 'text/html; charset=utf-8', text: '<p>the page</p>' }],
      scriptHashes: [],
      requestsAMinute: 1e9,
      ...page,
    });
    const desk = new Desk(driver, made);
    desk.failures = failures;
    wall.offsetMs = () => desk.wallOffsetMs;
    const stand = driver.bench as unknown as Record<string, (...args: unknown[]) => unknown>;
    for (const name of ['begin', 'person', 'inject', 'clear', 'renew', 'close']) {
      const real = stand[name]?.bind(driver.bench);
      stand[name] = (...args) => {
        const done = real?.(...args);
        // What the bench itself turned down has thrown.
        desk.calls++;
        return done;
      };
    }
    await made.app.ready();
    return desk;
  }

  get app(): FastifyInstance {
    return this.page.app;
  }
  get bench(): Driver['bench'] {
    return this.driver.bench;
  }
  get context(): Page['context'] {
    return this.page.context;
  }

  /** As the page itself looks. */
  look(): Snapshot {
    const { context } = this;
    return snapshotOf(this.bench, context.watch, {
      n: ++this.#looks,
      control: controlOf(context),
      bench: benchOf(context),
    });
  }

  /** With what a browser of ours sends along, unless told otherwise. */
  ask(
    method: string,
    url: string,
    { cookie, body, headers = {} }: Asked = {},
  ): Promise<LightMyRequestResponse> {
    return this.app.inject({
      method: method as NonNullable<InjectOptions['method']>,
      url,
      headers: {
        host: HOST,
        ...(method === 'POST' ? OURS : {}),
        ...(cookie === undefined ? {} : { cookie: `loopwarden-undefined=${cookie}` }),
        ...headers,
      },
      ...(body === undefined ? {} : { payload: body as object }),
    });
  }

  post = (url: string, cookie: string | undefined, body: unknown = {}): Promise<LightMyRequestResponse> =>
    this.ask('POST', url, { ...(cookie === undefined ? {} : { cookie }), body });

  /** @returns the cookie's token */
  async signIn(name: string, role: PersonRole): Promise<string> {
    const made = this.context.people.invite(role);
    const answer = await this.post('/api/sign-in', undefined, { invitation: made?.invitation, name });
    const token = answer.cookies[0]?.value;
    if (answer.statusCode !== 200 || token === undefined)
      throw new Error(`${answer.statusCode} ${answer.body}`);
    return token;
  }

  /** Signed in and in control. */
  async inControl(name = 'Ada', role: PersonRole = 'engineer'): Promise<string> {
    const token = await this.signIn(name, role);
    const answer = await this.post('/api/control', token, { do: 'take' });
    if (answer.statusCode !== 200) throw new Error(answer.body);
    return token;
  }

  until(what: (s: Snapshot['phase'] | undefined) => boolean, withinS = 120): Promise<void> {
    return this.driver.until(() => what(this.bench.session?.phase), withinS);
  }

  async close(): Promise<void> {
    await this.bench.close();
    await this.page.close();
  }
}
