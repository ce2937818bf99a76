/** A person before the live page, in a browser of their own; everything is found as people find it: by role and name. */
import type { Browser, BrowserContext, Locator, Page } from 'playwright-core';
import type { PersonRole } from '../../src/page/api.js';
import { BY_PROXY, PATIENCE_MS, type Served } from './live-page.js';

export interface SeatOptions {
  readonly name?: string;
  readonly role?: PersonRole;
  readonly viewport?: { readonly width: number; readonly height: number };
  readonly colorScheme?: 'light' | 'dark';
  /** Reaches the page by the proxy, not directly. */
  readonly byProxy?: boolean;
}

export const WORKSHOP = { width: 1920, height: 1080 };
export const SOMEBODY = 'N. Aalto';

export class Seat {
  /** All that the browser complained of: errors, warnings, violations of the policy of the page. */
  readonly said: string[] = [];
  /** What was asked for from anywhere else than the server of the page. */
  readonly elsewhere: string[] = [];

  private constructor(
    readonly page: Page,
    readonly context: BrowserContext,
    readonly name: string,
    private readonly served: Served,
  ) {}

  /** In a browser profile of its own: nobody shares a cookie. */
  static async take(browser: Browser, served: Served, options: SeatOptions = {}): Promise<Seat> {
    const { name = SOMEBODY, viewport = WORKSHOP, colorScheme = 'light' } = options;
    const context = await browser.newContext({ viewport, colorScheme, reducedMotion: 'reduce' });
    context.setDefaultTimeout(PATIENCE_MS);
    const page = await context.newPage();
    const seat = new Seat(page, context, name, served);
    const ours = [served.origin, served.origin.replace('127.0.0.1', BY_PROXY)];
    page.on('console', (message) => {
      if (['error', 'warning', 'assert'].includes(message.type())) seat.said.push(message.text());
    });
    page.on('pageerror', (error) => seat.said.push(error.message));
    page.on('request', (request) => {
      if (!ours.some((origin) => request.url().startsWith(`${origin}/`))) seat.elsewhere.push(request.url());
    });
    return seat;
  }

  /** Opens the page with an invitation; the form then waits for a name. */
  async come({ role = 'engineer', byProxy = false }: SeatOptions = {}): Promise<void> {
    const link = this.served.link(role);
    await this.page.goto(byProxy ? link.replace('127.0.0.1', BY_PROXY) : link);
    await this.page.getByRole('textbox', { name: 'Your name' }).waitFor();
  }

  async signIn(options: SeatOptions = {}): Promise<this> {
    await this.come(options);
    await this.page.getByRole('textbox', { name: 'Your name' }).fill(this.name);
    await this.button('Sign in').click();
    await this.glance.waitFor();
    await this.served.until(`${this.name} looks on`, () => this.served.watches(this.name));
    return this;
  }

  async takeControl(): Promise<this> {
    await this.button('Take control').click();
    await this.button('Release control').waitFor();
    return this;
  }

  // ---- what is found on the page -----------------------------------------------------------------------

  button(name: string | RegExp): Locator {
    return this.page.getByRole('button', { name, exact: typeof name === 'string' });
  }
  form(name: string): Locator {
    return this.page.getByRole('form', { name, exact: true });
  }
  part(name: string): Locator {
    return this.page.getByRole('region', { name, exact: true });
  }
  get glance(): Locator {
    return this.part('State of the whole');
  }
  get refusals(): Locator {
    return this.part('Refusals').getByRole('article');
  }
  /** Of a trip, and of the server being lost. */
  alert(text: string | RegExp): Locator {
    return this.page.getByRole('alert').filter({ hasText: text });
  }
  /** Newest first. */
  get events(): Locator {
    return this.part('Events, newest first').getByRole('listitem');
  }
  get readout(): Locator {
    return this.part('Traces').getByText(/^(Newest|Cursor) at /);
  }

  /** Waits until the glance says so. */
  async sees(text: string | RegExp): Promise<void> {
    await this.glance.filter({ hasText: text }).waitFor();
  }

  /** Waits until the list holds every event that the server has told. */
  async hasAllEvents(): Promise<void> {
    const last = this.served.events.at(-1);
    if (last !== undefined) await this.events.first().filter({ hasText: last.text }).waitFor();
  }

  /** Of the list as it stands, oldest first, which of the events of the server each row tells; -1 where none. */
  async rows(): Promise<number[]> {
    const texts = (await this.events.allTextContents()).reverse();
    return texts.map((text, i) => {
      const told = this.served.events[i];
      return told !== undefined && text.includes(told.text) ? told.id : -1;
    });
  }

  // ---- what is done by hand ----------------------------------------------------------------------------

  /** @param wish by the label of its field */
  async start(wish: Readonly<Record<string, string>> = {}): Promise<void> {
    const form = this.form('Start');
    for (const [label, value] of Object.entries(wish))
      await form.getByRole('spinbutton', { name: label }).fill(value);
    await form.getByRole('button', { name: 'Start' }).click();
  }

  /** Up to the current that the limits permit, quickly, and there slowly: people look at it. */
  async startAndHold(slowly = 5): Promise<void> {
    this.served.bench.speed = 60;
    await this.start();
    await this.served.inPhase('holding');
    this.served.bench.speed = slowly;
    await this.sees('the least limit governs');
  }

  async makeFault(words: string): Promise<void> {
    const form = this.form('Make a fault');
    await form.getByRole('combobox', { name: 'Fault' }).selectOption(words);
    await form.getByRole('button', { name: 'Make this fault' }).click();
  }

  /** Two frames: whatever changed has been laid out and drawn. */
  async drawn(): Promise<void> {
    await this.page.evaluate(
      () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))),
    );
  }

  leave(): Promise<void> {
    return this.context.close();
  }
}
