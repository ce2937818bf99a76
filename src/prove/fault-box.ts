/** Speaks to a fault box (config/procedures/FAULT-BOX.md): one order, one answer, nothing else on the line. */
import type { Clock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';
import type { Link } from '../link/link.js';

export const FAULT_BOX = 'fault-box';
export const FAULT_BOX_BAUD = 115_200;
const ANSWER_MS = 500;

export interface BoxFault {
  readonly fault: string;
  readonly magnitude?: number | undefined;
  readonly part?: string | undefined;
}

export class FaultBox {
  #answered: ((line: string | null) => void) | null = null;
  #last: Promise<unknown> = Promise.resolve();

  constructor(
    private readonly link: Link,
    private readonly clock: Clock,
  ) {}

  /** @throws PortError, and InputError when what answers is no fault box */
  async open(): Promise<string> {
    await this.link.open({ line: (text) => this.#heard(text), down: () => this.#heard(null) });
    const answer = await this.#ask('box?');
    const [word, version, model, serial] = (answer ?? '').split(' ');
    if (word === 'box' && version === '1') return `${model} ${serial}`;
    await this.link.close();
    throw new InputError(
      `--fault-box: ${answer === null ? 'nothing answers there' : `'${answer.slice(0, 40)}' answers there`}; expected a fault box, see config/procedures/FAULT-BOX.md`,
    );
  }

  /** @returns null when it was made, else why not */
  async make({ fault, magnitude, part }: BoxFault): Promise<string | null> {
    const words = ['make', fault];
    if (magnitude !== undefined || part !== undefined)
      words.push(magnitude === undefined ? '-' : String(magnitude));
    if (part !== undefined) words.push(part);
    const answer = await this.#ask(words.join(' '));
    if (answer === `made ${fault}`) return null;
    return answer === null ? 'the fault box does not answer' : `the fault box: ${answer}`;
  }

  /** @returns false when nobody knows whether it is clear */
  async clear(): Promise<boolean> {
    return (await this.#ask('clear')) === 'cleared';
  }

  close(): Promise<void> {
    return this.link.close();
  }

  #heard(text: string | null): void {
    this.#answered?.(text);
  }

  /** One at a time, in the order asked. */
  #ask(order: string): Promise<string | null> {
    const answer = this.#last.then(
      () =>
        new Promise<string | null>((resolve) => {
          const cancel = this.clock.after(ANSWER_MS, () => done(null));
          const done = (line: string | null): void => {
            cancel();
            this.#answered = null;
            resolve(line);
          };
          this.#answered = done;
          if (!this.link.send(order)) done(null);
        }),
    );
    this.#last = answer;
    return answer;
  }
}
