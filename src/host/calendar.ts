/** Days as devices tell them, yyyymmdd: whether there is such a day, and which day is some months before another. */
import { isoOf } from './clock.js';

const LONG = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;

const lengthOf = (year: number, month: number): number =>
  month === 2 && year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0) ? 29 : (LONG[month - 1] ?? 0);

const parts = (day: number): readonly [year: number, month: number, day: number] => [
  Math.floor(day / 10_000),
  Math.floor(day / 100) % 100,
  day % 100,
];

/** @returns false for what is no day of any calendar, such as 0 or 20230230 */
export function isDay(day: number): boolean {
  if (!Number.isInteger(day)) return false;
  const [year, month, dayOfMonth] = parts(day);
  return year >= 1900 && year <= 9999 && dayOfMonth >= 1 && dayOfMonth <= lengthOf(year, month);
}

/** UTC. */
export const dayOf = (wallMs: number): number => Number(isoOf(wallMs).slice(0, 10).replaceAll('-', ''));

/** The same day of an earlier month, or the last one where that month is shorter. */
export function monthsBefore(day: number, months: number): number {
  const [year, month, dayOfMonth] = parts(day);
  const index = year * 12 + month - 1 - months;
  const [toYear, toMonth] = [Math.floor(index / 12), (index % 12) + 1];
  return toYear * 10_000 + toMonth * 100 + Math.min(dayOfMonth, lengthOf(toYear, toMonth));
}

/** 2030-01-01; what is no day is shown as it came. */
export const dayText = (day: number): string =>
  isDay(day) ? String(day).replace(/^(....)(..)(..)$/, '$1-$2-$3') : String(day);
