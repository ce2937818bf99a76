/** The sequence of events of a session, in words, from its records: who asked what, what was found, what was done. */
import { CATALOGUE, type Code } from '../checks/catalogue.js';
import { ORDERS } from '../rig/orders.js';
import type { Entry, JournaledOrder } from './entry.js';

export interface AuditEvent {
  readonly n: number;
  readonly atMs: number;
  readonly kind:
    | 'person'
    | 'phase'
    | 'finding'
    | 'trip'
    | 'order'
    | 'dropped'
    | 'refusal'
    | 'limit'
    | 'port'
    | 'device'
    | 'fault'
    | 'end';
  readonly text: string;
}

/** A person reads no more; where a session flickers for a day, its beginning and its end are kept, the rest counted. */
const FIRST_KEPT = 1000;
const LAST_KEPT = 2000;
/** Repeated many times a second while all is well. */
const ROUTINE = new Set(['setpoint', 'authority', 'isolate']);

export class Events {
  readonly #kept: AuditEvent[] = [];
  dropped = 0;
  #phase = 'parked';

  get list(): readonly AuditEvent[] {
    return this.#kept;
  }

  /** Those there are, which are then forgotten: for who takes them as they come. */
  drain(): AuditEvent[] {
    return this.#kept.splice(0);
  }

  take({ n, tMs, k, b, sent }: Entry): void {
    const tell = (kind: AuditEvent['kind'], text: string): void => {
      this.#kept.push({ n, atMs: tMs, kind, text });
      if (this.#kept.length < FIRST_KEPT + 2 * LAST_KEPT) return;
      this.#kept.splice(FIRST_KEPT, LAST_KEPT);
      this.dropped += LAST_KEPT;
    };
    switch (k) {
      case 'person':
        tell('person', `${b.by} asks: ${b.order}${b.currentA === undefined ? '' : ` to ${b.currentA} A`}`);
        return;
      case 'device':
        tell(
          'device',
          `${b.port}: ${b.model}, serial ${b.serial}, firmware ${b.firmware}, calibrated ${b.calibratedOn}`,
        );
        return;
      case 'state': {
        const phase = typeof b.value === 'string' ? b.value : (Object.keys(b.value)[0] ?? '');
        if (phase !== this.#phase) tell('phase', phase);
        this.#phase = phase;
        return;
      }
      case 'finding':
        tell('finding', `${b.failing ? '' : 'over: '}${b.code}${partOf(b)}${b.failing ? figuresOf(b) : ''}`);
        return;
      case 'trip':
        tell('trip', `${b.effect} by ${b.code}${partOf(b)} in ${b.phase}${figuresOf(b)}`);
        return;
      case 'refusal':
        tell('refusal', `${b.asked} by ${b.by} refused: ${b.code}${partOf(b)}${figuresOf(b)}`);
        return;
      case 'limit':
        tell('limit', `${b.limit} governs${b.currentA === null ? '' : `: ${round(b.currentA)} A`}`);
        return;
      case 'dropped':
        tell('dropped', `${namesOf(b.orders)} not let out: ${b.why}`);
        return;
      case 'port':
        tell('port', `${b.port} down: ${b.down}`);
        return;
      case 'fault':
        tell('fault', `loopwarden itself failed: ${b.why}`);
        return;
      case 'end':
        tell(
          'end',
          `${b.outcome}, ${b.endReason}; ${b.endState.provenDead ? 'proven dead' : 'NOT PROVEN DEAD'}`,
        );
        return;
      default: {
        const told = sent.filter(({ name }) => name in ORDERS && !ROUTINE.has(name));
        if (told.length > 0)
          tell('order', `${namesOf(told)}${b.sent === false ? ' (the port did not take it)' : ''}`);
      }
    }
  }
}

const namesOf = (orders: readonly JournaledOrder[]): string => orders.map(({ name }) => name).join(', ');
const partOf = ({ part }: { part?: string | null }): string => (part ? ` (${part})` : '');
const round = (x: number): number => Number(x.toPrecision(5));

function figuresOf({
  reading,
  limit,
  unit,
  setting,
  code,
}: {
  reading: number | null;
  limit: number | null;
  unit: string;
  setting: string;
  code: string;
}): string {
  const words = CATALOGUE[code as Code]?.text ?? '';
  if (reading === null || limit === null) return `: ${words}`;
  return `: ${words}; read ${round(reading)}${unit && ` ${unit}`}, limit ${round(limit)}${unit && ` ${unit}`} [${setting}]`;
}
