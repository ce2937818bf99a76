/** Times of a day in plan files: `HH:MM` or `HH:MM:SS` after midnight of the first day, up to 47:59:59. */
import { z } from 'zod';

const FORM = /^([0-3]?\d|4[0-7]):([0-5]\d)(?::([0-5]\d))?$/;

/** Loads as seconds after midnight. */
export const timeOfDay = () =>
  z
    .string()
    .regex(FORM, 'a time of day, e.g. 06:40 or 06:40:30; after midnight it goes on with 24:10')
    .transform(secondsOfDay);

export function secondsOfDay(text: string): number {
  const [, hours, minutes, seconds = '0'] = FORM.exec(text) ?? [];
  return 3600 * Number(hours) + 60 * Number(minutes) + Number(seconds);
}

/** `06:40`, with seconds only where there are some. */
export function dayTime(seconds: number): string {
  const whole = Math.round(seconds);
  const two = (value: number): string => String(value).padStart(2, '0');
  const rest = whole % 60;
  const hm = `${two(Math.floor(whole / 3600))}:${two(Math.floor(whole / 60) % 60)}`;
  return rest === 0 ? hm : `${hm}:${two(rest)}`;
}
