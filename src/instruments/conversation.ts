/**
 * One conversation with an instrument: one question at a time, each answered within its time.
 *
 * Neither SCPI nor Modbus RTU has a number that ties an answer to its question. An answer that comes late, or twice,
 * would be taken for the answer to the next question: a voltage for a current. So whatever is out of step (no answer in
 * time, something nobody asked for) ends the conversation: it waits until the line is quiet, throws away what came, and
 * asks who is there. Only the answer to that, to the letter, begins it anew. What is asked and answered, and how it
 * lies on the line, is the matter of each language.
 */
import type { Clock } from '../host/clock.js';
import { overtaken, type Trouble } from './talk.js';

export type AnswerDone<A> = (answer: A | null, trouble: Trouble | null) => void;

export interface Job<Q, A> {
  readonly question: Q;
  readonly done: AnswerDone<A>;
}

export interface ConversationOptions {
  readonly clock: Clock;
  readonly answerMs: number;
  /** A pause after each answer in which nothing may come: a second answer would show there. */
  readonly gapMs: number;
  /** Told what nobody asked for. */
  trouble(what: Trouble): void;
}

/** More than this waiting is a fault of ours. */
const MAX_WAITING = 16;
/** One turn of the process, in which what has arrived is delivered. */
const LOOK_AGAIN_MS = 2;

type State = 'closed' | 'ready' | 'asking' | 'gap' | 'listening' | 'greeting';

export abstract class Conversation<Q, A> {
  #state: State = 'closed';
  #queue: Job<Q, A>[] = [];
  #asked: Job<Q, A> | null = null;
  #cancel: () => void = () => {};
  /** The whole answer to the identity question; empty until the first. */
  #identity = '';
  #greeted: ((identity: A | null) => void) | null = null;

  constructor(private readonly base: ConversationOptions) {}

  /** @returns false when the line takes nothing more */
  protected abstract transmit(job: Job<Q, A>): boolean;
  protected abstract askIdentity(): void;
  /** What of an answer has come so far is no part of the next. */
  protected forget(): void {}
  /** What goes before everything that waits. */
  protected first(): Job<Q, A> | null {
    return null;
  }

  /** What must go out all the same though the conversation is lost, before anybody is told of that. */
  protected lost(): void {}

  /** True while questions are taken. */
  get inStep(): boolean {
    return this.#state === 'ready' || this.#state === 'asking' || this.#state === 'gap';
  }
  protected get state(): State {
    return this.#state;
  }

  /** Waits for a quiet line, then asks who is there; null when nobody answers. */
  greet(): Promise<A | null> {
    return new Promise((resolve) => {
      this.#greeted = resolve;
      this.listen();
    });
  }

  ask(question: Q, done: AnswerDone<A>): void {
    if (!this.inStep) done(null, silence(0, 'the instrument is out of step or gone'));
    else if (this.#queue.length >= MAX_WAITING) done(null, silence(0, 'too many questions wait'));
    else {
      this.#queue.push({ question, done });
      this.next();
    }
  }

  /** What waits is not sent any more, once `instead` has been. What was asked is still awaited. */
  protected overtake<T>(instead: () => T): T {
    const waiting = this.#queue;
    this.#queue = [];
    const told = instead();
    for (const { done } of waiting) done(null, overtaken);
    return told;
  }

  protected next(): void {
    if (this.#state !== 'ready') return;
    const job = this.first() ?? this.#queue.shift();
    if (job === undefined) return;
    this.#state = 'asking';
    this.#asked = job;
    const { answerMs } = this.base;
    this.#await(() => this.lose(silence(answerMs, `no answer within ${answerMs} ms`)));
    if (!this.transmit(job)) this.lose(silence(0, 'the port takes nothing more'));
  }

  /** A busy process finds the time over and the answer there at once: what is there is looked at first. */
  #await(late: () => void): void {
    const { clock, answerMs } = this.base;
    this.#cancel = clock.after(answerMs, () => {
      this.#cancel = clock.after(LOOK_AGAIN_MS, late);
    });
  }

  protected isAsked(job: Job<Q, A>): boolean {
    return this.#asked === job;
  }

  /** In step: what was asked is answered, or was refused. */
  protected answered(answer: A | null, trouble: Trouble | null = null): void {
    const job = this.#asked;
    this.#asked = null;
    this.#rest();
    job?.done(answer, trouble);
  }

  /** @param text of the whole identity, @param otherwise how another is told */
  protected introduced(text: string, answer: A, otherwise: string): void {
    if (this.#identity !== '' && text !== this.#identity) {
      this.base.trouble({ kind: 'bad-answer', value: 0, text: otherwise });
      this.listen();
      return;
    }
    this.#identity = text;
    this.#rest();
    this.#tellGreeted(answer);
  }

  /** Nobody says who is there: given up where someone waits to open the port, asked again where it was lost. */
  protected unanswered(): void {
    if (this.#greeted === null) this.listen();
    else {
      this.#cancel();
      this.#state = 'closed';
      this.#tellGreeted(null);
    }
  }

  #rest(): void {
    this.#cancel();
    this.#state = 'gap';
    this.#cancel = this.base.clock.after(this.base.gapMs, () => {
      this.#state = 'ready';
      this.next();
    });
  }

  /** Out of step: everything asked fails with the same word, and nothing is believed until it is greeted again. */
  protected lose(trouble: Trouble): void {
    const failed = this.#unfinished();
    if (this.#asked === null) this.base.trouble(trouble);
    this.#clear();
    this.listen();
    this.lost();
    for (const { done } of failed) done(null, trouble);
  }

  /** Until the line is quiet; then only the identity answered before begins it anew. */
  protected listen(): void {
    if (this.#state === 'closed' && this.#greeted === null) return;
    this.#cancel();
    this.forget();
    this.#state = 'listening';
    this.#cancel = this.base.clock.after(this.base.answerMs, () => {
      this.#state = 'greeting';
      this.#await(() => this.unanswered());
      this.askIdentity();
    });
  }

  protected end(reason: string): void {
    this.#cancel();
    this.#state = 'closed';
    this.forget();
    const failed = this.#unfinished();
    this.#clear();
    for (const { done } of failed) done(null, silence(0, reason));
    this.#tellGreeted(null);
  }

  #unfinished(): Job<Q, A>[] {
    return [...(this.#asked ? [this.#asked] : []), ...this.#queue];
  }
  #clear(): void {
    this.#asked = null;
    this.#queue = [];
  }

  #tellGreeted(identity: A | null): void {
    const tell = this.#greeted;
    this.#greeted = null;
    tell?.(identity);
  }
}

const silence = (value: number, text: string): Trouble => ({ kind: 'no-answer', value, text });
