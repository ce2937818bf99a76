/** The handshakes of all ports of a rig. */
import type { Welcome } from '../link/frames.js';
import type { Rig } from '../rig/schema.js';
import { faultsOf, HELLO_EVERY_MS, helloOf, type StartFault } from './handshake.js';
import type { Outbox } from './outbox.js';
import type { SessionSetup } from './session-types.js';

/** A start after a session that never told its end, with something live. It is refused, too. */
export const leftUnfinished = ({ latched, startFaults }: SessionSetup): boolean =>
  latched && startFaults.some((fault) => fault.code === 'unfinished-journal');

export class Handshakes {
  readonly #welcomes: (Welcome | null)[];
  #helloMs = 0;

  constructor(
    private readonly rig: Rig,
    private readonly outbox: Outbox,
    private readonly orderSafe: boolean,
  ) {
    this.#welcomes = rig.link.ports.map(() => null);
  }

  begin(nowMs: number): void {
    this.#helloMs = nowMs;
    this.#welcomes.forEach((w, port) => {
      if (w === null) this.outbox.frame(port, helloOf(this.rig, port));
    });
  }

  /** Says hello again where no welcome has come. */
  insist(nowMs: number): void {
    if (nowMs - this.#helloMs >= HELLO_EVERY_MS && this.silentPort() !== null) this.begin(nowMs);
  }

  /** Where the last session was left unfinished nobody knows what still stands: each device that answers is told to make safe. */
  welcomed(port: number, welcome: Welcome, nowMs: number): void {
    this.#welcomes[port] = welcome;
    if (this.orderSafe) this.outbox.dispatch([{ name: 'make-safe', args: {} }], nowMs);
  }

  isWelcomed(port: number): boolean {
    return this.#welcomes[port] !== null;
  }

  /** Name of the first port that has not answered, or null. */
  silentPort(): string | null {
    const port = this.#welcomes.indexOf(null);
    return port < 0 ? null : (this.rig.link.ports[port]?.name ?? String(port));
  }

  get faults(): StartFault[] {
    return this.#welcomes.flatMap((w, port) => (w === null ? [] : faultsOf(w, this.rig, port)));
  }
}
