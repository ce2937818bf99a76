/** A SCPI instrument told and read by its command map. The error queue is read after every action. */
import type { Clock } from '../host/clock.js';
import { type Link, PortError } from '../link/link.js';
import type { ScpiMap } from '../rig/instrument-schema.js';
import { figureText, scpiError, scpiIdentity, scpiNumber } from './scpi-number.js';
import { ScpiSession } from './scpi-session.js';
import { type Found, NoAnswer, opened, type Readings, type Talk, type Told, type Trouble } from './talk.js';

/** The queue of an instrument holds a few dozen; one that never empties is broken. */
const MAX_ERRORS = 40;
/** Beyond the rounding of its own display a value read back is another value. */
const READ_BACK_SHARE = 1e-3;
/** After an action that went wrong: the rest of the queue is read so far, and kept for the next action otherwise. */
const ERRORS_AFTER_ACTION = 10;

export interface ScpiTalkOptions {
  readonly clock: Clock;
  readonly map: ScpiMap;
  /** Serial, or memory in tests. */
  readonly link: Link;
  /** For messages. */
  readonly path: string;
  trouble(what: Trouble): void;
  /** Worth noting: errors found standing in the queue. */
  note(text: string): void;
}

export class ScpiTalk implements Talk {
  readonly #session: ScpiSession;
  readonly #map: ScpiMap;

  constructor(private readonly options: ScpiTalkOptions) {
    const { clock, map, link } = options;
    this.#map = map;
    const { answerMs, gapMs } = map.timing;
    this.#session = new ScpiSession({
      clock,
      link,
      answerMs,
      gapMs,
      identityAsk: map.identity.ask,
      trouble: (what) => options.trouble(what),
    });
  }

  open(down: (reason: string) => void): Promise<Found> {
    const { map, path, link } = this.options;
    const remedy = 'check that the instrument is on, speaks SCPI on this line, and the baud rate';
    const refusal = (why: string) => new PortError(link.port, path, why, remedy);
    return opened(this.#session, down, () => this.#prepare(map), refusal);
  }

  close(): Promise<void> {
    return this.#session.close();
  }

  output(on: boolean, done: Told): void {
    const { actions } = this.#map;
    if (actions) this.#act([on ? actions.outputOn : actions.outputOff], done);
    else done(null);
  }

  set(currentA: number, voltageV: number, done: Told): void {
    const { actions, steps } = this.#map;
    if (!actions || !steps) {
      done(null);
      return;
    }
    this.#act(
      [
        actions.setVoltage.replace('{V}', figureText(voltageV, steps.voltageV)),
        actions.setCurrent.replace('{A}', figureText(currentA, steps.currentA)),
      ],
      done,
    );
  }

  offAtOnce(): void {
    const { actions } = this.#map;
    if (actions) this.#session.urgent(actions.outputOff);
  }

  read(done: (readings: Readings | null, trouble: Trouble | null) => void): void {
    const { reads, join } = this.#map;
    const questions = join ? [reads.map((r) => r.ask).join(';:')] : reads.map((r) => r.ask);
    const answers: string[] = [];
    const next = (): void => {
      const question = questions[answers.length];
      if (question === undefined) {
        const { readings, trouble } = this.#understand(join ? (answers[0] as string).split(';') : answers);
        done(readings, trouble);
        return;
      }
      this.#session.ask([question], (answer, trouble) => {
        if (answer === null) {
          done(null, trouble);
          return;
        }
        answers.push(answer);
        next();
      });
    };
    next();
  }

  /** One answer a question, one number a field; anything else is no reading at all. */
  #understand(answers: readonly string[]): { readings: Readings | null; trouble: Trouble | null } {
    const { reads } = this.#map;
    const bad = (text: string) => ({
      readings: null,
      trouble: { kind: 'bad-answer', value: 0, text: text.slice(0, 200) } as const,
    });
    if (answers.length !== reads.length) return bad(`${answers.length} answers to ${reads.length} questions`);
    const readings: Record<string, number> = {};
    const overloaded: string[] = [];
    for (const [i, { ask, fields }] of reads.entries()) {
      const numbers = (answers[i] as string).split(',');
      if (numbers.length !== fields.length)
        return bad(`${numbers.length} numbers to ${ask}, expected ${fields.length}`);
      for (const [k, field] of fields.entries()) {
        const {
          field: name,
          scale,
          offset,
        } = typeof field === 'string' ? { field, scale: 1, offset: 0 } : field;
        const number = scpiNumber(numbers[k] as string);
        if (number.is === 'garbage') return bad(`${JSON.stringify(numbers[k])} to ${ask}, expected a number`);
        if (name === '-') continue;
        if (number.is === 'overload') overloaded.push(name);
        readings[name] = number.is === 'number' ? number.value * scale + offset : Number.NaN;
      }
    }
    const trouble: Trouble | null =
      overloaded.length === 0
        ? null
        : { kind: 'overload', value: overloaded.length, text: `overload: ${overloaded.join(', ')}` };
    return { readings, trouble };
  }

  #act(lines: readonly string[], done: Told): void {
    this.#session.ask([...lines, this.#map.errors.ask], (answer, trouble) => {
      if (answer === null) {
        done(trouble);
        return;
      }
      const error = scpiError(answer);
      if (error === null)
        done({ kind: 'bad-answer', value: 0, text: `${JSON.stringify(answer.slice(0, 60))} for an error` });
      else if (error.number === 0) done(null);
      else {
        const what: Trouble = {
          kind: 'scpi-error',
          value: error.number,
          text: `${lines.join('; ')}: ${error.number}, ${error.text}`,
        };
        this.#emptyQueue(ERRORS_AFTER_ACTION, () => done(what));
      }
    });
  }

  /** Reads errors until there is none, or so many; what else is wrong shows in the next question. */
  #emptyQueue(most: number, done: (found: string[], empty: boolean) => void): void {
    const found: string[] = [];
    const next = (): void => {
      this.#session.ask([this.#map.errors.ask], (answer) => {
        const error = answer === null ? null : scpiError(answer);
        if (error !== null && error.number !== 0) found.push(`${error.number}, ${error.text}`);
        if (error === null || error.number === 0 || found.length >= most) done(found, error?.number === 0);
        else next();
      });
    };
    next();
  }

  // ---- opening --------------------------------------------------------------------------------------

  async #prepare(map: ScpiMap): Promise<Found> {
    const { path, link } = this.options;
    const refuse = (why: string, remedy: string): never => {
      throw new PortError(link.port, path, why, remedy);
    };
    const said = await this.#session.greet();
    if (said === null) throw this.#silent(map.identity.ask);
    const identity = scpiIdentity(said);
    if (identity === null || identity.model !== map.identity.model)
      return refuse(
        `it answers as ${JSON.stringify(said.slice(0, 80))}, ${map.name} expects the model ${map.identity.model}`,
        'check which line leads where',
      );
    const { found, empty } = await new Promise<{ found: string[]; empty: boolean }>((resolve) =>
      this.#emptyQueue(MAX_ERRORS, (found, empty) => resolve({ found, empty })),
    );
    if (found.length === 0 && !empty) throw this.#silent(map.errors.ask);
    if (!empty) return refuse('its error queue does not empty', 'look at the instrument');
    for (const error of found) this.options.note(`stood in the error queue: ${error}`);
    let outputWasOn = false;
    if (map.role !== 'meter') {
      // Before anything is set: whoever left it on is gone.
      const readings = await this.#readOnce();
      if (readings === null) throw this.#silent('its readings');
      outputWasOn = readings.outputOn !== 0;
      if (outputWasOn) await this.#settle(map.actions?.outputOff as string);
    }
    for (const { say, ask, expect } of map.opening) await this.#settle(say, ask, expect);
    if (typeof map.watchdog === 'object') {
      const { say, ask, unit, timeMs } = map.watchdog;
      const time = unit === 's' ? timeMs / 1000 : timeMs;
      await this.#settle(say.replace(`{${unit}}`, String(time)), ask, time);
    }
    return { ...identity, outputWasOn };
  }

  #silent(what: string): NoAnswer {
    return new NoAnswer(`no answer to ${what} within ${this.#map.timing.answerMs} ms`);
  }

  #readOnce(): Promise<Readings | null> {
    return new Promise((resolve) => this.read((readings) => resolve(readings)));
  }

  /** Says it, reads the error queue, and reads it back where the map says how. @throws PortError */
  async #settle(say: string, ask?: string, expect?: number): Promise<void> {
    const { path, link } = this.options;
    const trouble = await new Promise<Trouble | null>((resolve) => this.#act([say], resolve));
    if (trouble !== null)
      throw new PortError(
        link.port,
        path,
        `it did not take ${say} (${trouble.text})`,
        'check its command map',
      );
    if (ask === undefined || expect === undefined) return;
    const answer = await new Promise<string | null>((resolve) => this.#session.ask([ask], resolve));
    if (answer === null) throw this.#silent(ask);
    const number = scpiNumber(answer);
    const same =
      number.is === 'number' && Math.abs(number.value - expect) <= READ_BACK_SHARE * Math.abs(expect);
    if (!same) {
      const read = JSON.stringify(answer.slice(0, 40));
      throw new PortError(
        link.port,
        path,
        `after ${say} it reads ${read} for ${ask}, expected ${expect}`,
        'check its command map',
      );
    }
  }
}
