/**
 * One conversation with a SCPI instrument over a line-based link: one message at a time, one line of answer, each
 * within its time.
 *
 * SCPI has no number that ties an answer to its question. An answer that comes late, or twice, would be taken for the
 * answer to the next question: a voltage for a current. So whatever is out of step (no answer in time, a line nobody
 * asked for) ends the conversation: it waits until the line is quiet, throws away what came, and asks who is there.
 * Only the answer to that, to the letter, begins it anew.
 */
import type { Clock } from '../host/clock.js';
import type { Link } from '../link/link.js';
import { overtaken, type Trouble } from './talk.js';

export type AnswerDone = (answer: string | null, trouble: Trouble | null) => void;

interface Question {
  readonly lines: readonly string[];
  readonly done: AnswerDone;
}

/** More than this waiting is a fault of ours. */
const MAX_WAITING = 16;
/** One turn of the process, in which what has arrived is delivered. */
const LOOK_AGAIN_MS = 2;
/** IEEE 488.2 sets no bound; nothing a map asks for is longer. */
const LONGEST_ANSWER = 1024;

export interface SessionOptions {
  readonly clock: Clock;
  readonly link: Link;
  readonly answerMs: number;
  readonly gapMs: number;
  readonly identityAsk: string;
  /** Told what nobody asked for. */
  trouble(what: Trouble): void;
}

type State = 'closed' | 'ready' | 'asking' | 'gap' | 'listening' | 'greeting';

export class ScpiSession {
  #state: State = 'closed';
  #queue: Question[] = [];
  #asked: Question | null = null;
  #cancel: () => void = () => {};
  /** The whole answer to the identity question; empty until the first. */
  identity = '';
  #greeted: ((identity: string | null) => void) | null = null;

  constructor(private readonly options: SessionOptions) {}

  /** True while questions are taken. */
  get inStep(): boolean {
    return this.#state === 'ready' || this.#state === 'asking' || this.#state === 'gap';
  }

  /** @throws PortError */
  async open(down: (reason: string) => void): Promise<void> {
    await this.options.link.open({
      line: (text) => this.#line(text),
      down: (reason) => {
        this.#end(reason);
        down(reason);
      },
    });
  }

  /** Waits for a quiet line, then asks who is there; null when nobody answers. */
  greet(): Promise<string | null> {
    return new Promise((resolve) => {
      this.#greeted = resolve;
      this.#listen();
    });
  }

  async close(): Promise<void> {
    this.#end('closed');
    await this.options.link.close();
  }

  /** Lines are sent one after the other; the last one asks. */
  ask(lines: readonly string[], done: AnswerDone): void {
    if (!this.inStep) done(null, silence(0, 'the instrument is out of step or gone'));
    else if (this.#queue.length >= MAX_WAITING) done(null, silence(0, 'too many questions wait'));
    else {
      this.#queue.push({ lines, done });
      this.#next();
    }
  }

  /** Sent now, past everything that waits, which is not sent any more. What was asked is still awaited. */
  urgent(line: string): boolean {
    const waiting = this.#queue;
    this.#queue = [];
    const sent = this.#state !== 'closed' && this.options.link.send(line);
    for (const { done } of waiting) done(null, overtaken);
    return sent;
  }

  #next(): void {
    if (this.#state !== 'ready') return;
    const question = this.#queue.shift();
    if (question === undefined) return;
    this.#state = 'asking';
    this.#asked = question;
    const { clock, link, answerMs } = this.options;
    const sent = question.lines.every((line) => link.send(line));
    // A busy process finds the time over and the answer there at once: what is there is looked at first.
    this.#cancel = clock.after(answerMs, () => {
      this.#cancel = clock.after(LOOK_AGAIN_MS, () =>
        this.#lose(silence(answerMs, `no answer within ${answerMs} ms`)),
      );
    });
    if (!sent) this.#lose(silence(0, 'the port takes nothing more'));
  }

  #line(raw: string): void {
    const text = raw.endsWith('\r') ? raw.slice(0, -1) : raw;
    switch (this.#state) {
      case 'asking':
        this.#answered(text);
        return;
      case 'greeting':
        this.#introduced(text);
        return;
      case 'listening':
        // Not quiet yet.
        this.#listen();
        return;
      case 'ready':
      case 'gap':
        this.#lose({ kind: 'bad-answer', value: 0, text: `unasked: ${shown(text)}` });
        return;
      default:
        return;
    }
  }

  #answered(text: string): void {
    if (text.length > LONGEST_ANSWER || !/^[\x20-\x7e]*$/.test(text)) {
      this.#lose({ kind: 'bad-answer', value: 0, text: `no text: ${shown(text)}` });
      return;
    }
    const question = this.#asked;
    this.#asked = null;
    this.#rest();
    question?.done(text, null);
  }

  #introduced(text: string): void {
    if (this.identity !== '' && text !== this.identity) {
      this.options.trouble({ kind: 'bad-answer', value: 0, text: `another instrument: ${shown(text)}` });
      this.#listen();
      return;
    }
    this.identity = text;
    this.#rest();
    this.#tellGreeted(text);
  }

  /** A pause in which nothing may come: a second answer would show here. */
  #rest(): void {
    this.#cancel();
    this.#state = 'gap';
    this.#cancel = this.options.clock.after(this.options.gapMs, () => {
      this.#state = 'ready';
      this.#next();
    });
  }

  /** Out of step: everything asked fails with the same word, and nothing is believed until it is greeted again. */
  #lose(trouble: Trouble): void {
    const failed = [...(this.#asked ? [this.#asked] : []), ...this.#queue];
    if (this.#asked === null) this.options.trouble(trouble);
    this.#asked = null;
    this.#queue = [];
    this.#listen();
    for (const { done } of failed) done(null, trouble);
  }

  #listen(): void {
    if (this.#state === 'closed' && this.#greeted === null) return;
    this.#cancel();
    this.#state = 'listening';
    const { clock, link, answerMs, identityAsk } = this.options;
    this.#cancel = clock.after(answerMs, () => {
      this.#state = 'greeting';
      link.send(identityAsk);
      this.#cancel = clock.after(answerMs, () => {
        if (this.#greeted === null) this.#listen();
        else {
          this.#state = 'closed';
          this.#tellGreeted(null);
        }
      });
    });
  }

  #tellGreeted(identity: string | null): void {
    const tell = this.#greeted;
    this.#greeted = null;
    tell?.(identity);
  }

  #end(reason: string): void {
    this.#cancel();
    this.#state = 'closed';
    const failed = [...(this.#asked ? [this.#asked] : []), ...this.#queue];
    this.#asked = null;
    this.#queue = [];
    for (const { done } of failed) done(null, silence(0, reason));
    this.#tellGreeted(null);
  }
}

const silence = (value: number, text: string): Trouble => ({ kind: 'no-answer', value, text });
/** Bounded and printable, for a log. */
const shown = (text: string): string => JSON.stringify(text.slice(0, 60));
