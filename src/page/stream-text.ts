/**
 * What goes over the streams, as text. Everybody is told the same events, and in one round the same state: each is written
 * as JSON once, not once a page. Fifty pages would otherwise hold up the process they share with the supervisor for as long
 * as fifty states take to write, five times a second.
 */
import type { StateMessage } from './api.js';

const WRITTEN = new WeakMap<object, string>();

function once(what: object): string {
  const known = WRITTEN.get(what);
  if (known !== undefined) return known;
  const text = JSON.stringify(what);
  WRITTEN.set(what, text);
  return text;
}

const isState = (data: object): data is StateMessage => 'snapshot' in data && 'points' in data;

/** The same as JSON.stringify gives. Only for what nobody changes once it is told. */
export function streamText(data: unknown): string {
  if (typeof data !== 'object' || data === null) return JSON.stringify(data);
  if (!isState(data)) return once(data);
  const { snapshot, first, points, bindings } = data;
  return `{"snapshot":${once(snapshot)},"first":${first},"points":${JSON.stringify(points)},"bindings":${JSON.stringify(bindings)}}`;
}
