/** A line to the server of the page that can be cut, or hold back what the server says. Bytes are not looked at. */
import { connect, createServer, type Server, type Socket } from 'node:net';
import { BY_PROXY } from './live-page.js';

export class CutLine {
  #server: Server | null = null;
  readonly #pairs = new Set<{ readonly near: Socket; readonly far: Socket }>();
  #stalled = false;

  private constructor(private readonly port: number) {}

  /** At the port of the server, under another address: the browser then names the host as the server knows it. */
  static async before(port: number): Promise<CutLine> {
    const proxy = new CutLine(port);
    await proxy.mend();
    return proxy;
  }

  async mend(): Promise<void> {
    const server = createServer((near) => this.#join(near));
    this.#server = server;
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(this.port, BY_PROXY, resolve);
    });
  }

  #join(near: Socket): void {
    const far = connect(this.port, '127.0.0.1');
    const pair = { near, far };
    this.#pairs.add(pair);
    const end = (): void => {
      this.#pairs.delete(pair);
      near.destroy();
      far.destroy();
    };
    for (const socket of [near, far]) {
      socket.on('error', end);
      socket.on('close', end);
    }
    near.on('data', (bytes) => far.write(bytes));
    far.on('data', (bytes) => near.write(bytes));
    if (this.#stalled) far.pause();
  }

  /** As one that is killed: nothing is said to either side but that the line is gone. */
  async cut(): Promise<void> {
    const server = this.#server;
    this.#server = null;
    for (const { near, far } of [...this.#pairs]) {
      near.resetAndDestroy();
      far.resetAndDestroy();
    }
    await new Promise<void>((resolve) => (server === null ? resolve() : server.close(() => resolve())));
  }

  /** What the server says does not arrive; the lines stay open. */
  stall(): void {
    this.#stalled = true;
    for (const { far } of this.#pairs) far.pause();
  }
  flow(): void {
    this.#stalled = false;
    for (const { far } of this.#pairs) far.resume();
  }
}
