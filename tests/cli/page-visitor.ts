/** Somebody at a browser before `loopwarden serve`: signs in with the printed link, looks and orders. */
import http from 'node:http';
import https from 'node:https';
import type { Snapshot } from '../../src/page/api.js';
import { type Process, pass } from './process.js';

export interface Answered {
  readonly status: number;
  // biome-ignore lint/suspicious/noExplicitAny: whatever JSON the page says
  readonly body: any;
  readonly setCookie: string;
}

export class Visitor {
  #cookie = '';

  private constructor(
    readonly address: string,
    /** Of a certificate that was made for the test. */
    private readonly ca: string | undefined,
  ) {}

  /** Waits for the link of a `serve --json`, and takes it. */
  static async of(serve: Process, { name = 'Ada', ca = undefined as string | undefined, at = '' } = {}) {
    const [line] = await serve.says(/^\{.*\}\n/);
    const said = JSON.parse(line) as { readonly address: string; readonly signIn: string };
    const visitor = new Visitor(at === '' ? said.address : said.address.replace(/\/\/[^:]+/, `//${at}`), ca);
    const invitation = said.signIn.split('#invitation=')[1];
    const answer = await visitor.post('/api/sign-in', { invitation, name });
    if (answer.status !== 200) throw new Error(`${answer.status} ${JSON.stringify(answer.body)}`);
    return { visitor, me: answer.body, setCookie: answer.setCookie };
  }

  ask(method: string, path: string, body?: object): Promise<Answered> {
    const url = new URL(path, this.address);
    const options = {
      ...{ method, agent: false as const },
      ...(this.ca === undefined ? {} : { ca: this.ca }),
      headers: {
        ...(this.#cookie === '' ? {} : { cookie: this.#cookie }),
        ...(body === undefined ? {} : { 'content-type': 'application/json', 'x-loopwarden': 'page' }),
      },
    };
    return new Promise((resolve, reject) => {
      const asked = (url.protocol === 'https:' ? https : http).request(url, options, (answer) => {
        let text = '';
        answer.on('data', (piece) => {
          text += piece;
        });
        answer.on('end', () => {
          const setCookie = answer.headers['set-cookie']?.[0] ?? '';
          if (setCookie !== '') this.#cookie = setCookie.split(';')[0] as string;
          const isJson = String(answer.headers['content-type']).includes('json');
          resolve({ status: answer.statusCode ?? 0, body: isJson ? JSON.parse(text) : text, setCookie });
        });
      });
      asked.on('error', reject);
      asked.end(body === undefined ? undefined : JSON.stringify(body));
    });
  }

  get = (path: string): Promise<Answered> => this.ask('GET', path);
  post = (path: string, body: object): Promise<Answered> => this.ask('POST', path, body);
  order = (order: string, more: object = {}): Promise<Answered> =>
    this.post('/api/orders', { order, ...more });

  /** The first state of which this is so. */
  async state(what: string, is: (s: Snapshot) => boolean, withinS = 60): Promise<Snapshot> {
    const endMs = performance.now() + withinS * 1000;
    for (;;) {
      const { body } = await this.get('/api/state');
      if (is(body)) return body;
      if (performance.now() > endMs)
        throw new Error(`not within ${withinS} s: ${what}; ${JSON.stringify(body)}`);
      await pass(50);
    }
  }
}
