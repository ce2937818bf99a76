/** One conversation with a SCPI instrument over a line-based link: lines out, the last of them asks, one line back. */
import type { Link } from '../link/link.js';
import { Conversation, type ConversationOptions, type Job } from './conversation.js';

/** IEEE 488.2 sets no bound; nothing a map asks for is longer. */
const LONGEST_ANSWER = 1024;

export interface SessionOptions extends ConversationOptions {
  readonly link: Link;
  readonly identityAsk: string;
}

/** Lines are sent one after the other; the last one asks. */
type Lines = readonly string[];

export class ScpiSession extends Conversation<Lines, string> {
  constructor(private readonly options: SessionOptions) {
    super(options);
  }

  /** @throws PortError */
  async open(down: (reason: string) => void): Promise<void> {
    await this.options.link.open({
      line: (text) => this.#line(text),
      down: (reason) => {
        this.end(reason);
        down(reason);
      },
    });
  }

  async close(): Promise<void> {
    this.end('closed');
    await this.options.link.close();
  }

  /** Sent now, past everything that waits. */
  urgent(line: string): boolean {
    return this.overtake(() => this.state !== 'closed' && this.options.link.send(line));
  }

  protected override transmit({ question }: Job<Lines, string>): boolean {
    return question.every((line) => this.options.link.send(line));
  }

  protected override askIdentity(): void {
    this.options.link.send(this.options.identityAsk);
  }

  #line(raw: string): void {
    const text = raw.endsWith('\r') ? raw.slice(0, -1) : raw;
    switch (this.state) {
      case 'asking':
        if (text.length > LONGEST_ANSWER || !/^[\x20-\x7e]*$/.test(text))
          this.lose({ kind: 'bad-answer', value: 0, text: `no text: ${shown(text)}` });
        else this.answered(text);
        return;
      case 'greeting':
        this.introduced(text, text, `another instrument: ${shown(text)}`);
        return;
      case 'listening':
        // Not quiet yet.
        this.listen();
        return;
      case 'ready':
      case 'gap':
        this.lose({ kind: 'bad-answer', value: 0, text: `unasked: ${shown(text)}` });
        return;
      default:
        return;
    }
  }
}

/** Bounded and printable, for a log. */
const shown = (text: string): string => JSON.stringify(text.slice(0, 60));
