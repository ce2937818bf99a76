/** Figures given on the command line, with their bounds, refused in words. */
import { InvalidArgumentError } from 'commander';
import { MOST_SHARDS, type Shard } from '../campaign/shard.js';

const numberIn =
  (low: number, high: number, what: string) =>
  (text: string): number => {
    const value = Number(text);
    if (text.trim() === '' || !(value >= low && value <= high))
      throw new InvalidArgumentError(`expected ${what}`);
    return value;
  };

export const share = numberIn(0, 1, 'a share from 0 to 1, e.g. 0.8');
export const energyKwh = numberIn(0.001, 100_000, 'kilowatt hours above 0');
export const amps = numberIn(0.1, 10_000, 'amperes above 0');
export const seconds = numberIn(1, 604_800, 'seconds from 1 to 604800');
const UNITS_S: Readonly<Record<string, number>> = { s: 1, min: 60, h: 3600 };
/** A time with its unit, in seconds. */
export function time(text: string): number {
  const [, value = '', unit = ''] = /^(\d+(?:\.\d+)?)\s*(s|min|h)$/.exec(text.trim()) ?? [];
  const read = Number(value) * (UNITS_S[unit] ?? Number.NaN);
  if (value === '' || !(read >= 1 && read <= 86_400))
    throw new InvalidArgumentError(
      'expected a time with its unit, from 1 s to 24 h, e.g. 4min, 240s or 0.5h',
    );
  return read;
}
export const celsius = numberIn(-60, 120, 'degrees Celsius from -60 to 120');
const seedNumber = numberIn(0, 0xffffffff, 'a whole number from 0 to 4294967295');
export const seed = (text: string): number => {
  const value = seedNumber(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('expected a whole number');
  return value;
};
const countNumber = numberIn(0, 1_000_000, 'a whole number from 0');
export const count = (text: string): number => {
  const value = countNumber(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('expected a whole number');
  return value;
};
const fromOneNumber = numberIn(1, 1_000_000, 'a whole number from 1');
export const countFromOne = (text: string): number => {
  const value = fromOneNumber(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('expected a whole number');
  return value;
};
const portNumber = numberIn(1, 65535, 'a TCP port from 1 to 65535');
export const tcpPort = (text: string): number => {
  const value = portNumber(text);
  if (!Number.isInteger(value)) throw new InvalidArgumentError('expected a whole number');
  return value;
};
/** Wider than anything that can be built, narrow enough that no square of it overflows. */
const LEAST = 1e-15;
const MOST = 1e12;
/** A figure above 0, e.g. `aboveZero('ohms')`. */
export const aboveZero = (unit: string): ((text: string) => number) =>
  numberIn(LEAST, MOST, `${unit} above 0, from ${LEAST} to ${MOST}`);

/** `i/n`, counted from 1. */
export const shard = (text: string): Shard => {
  const [, index, of] = /^(\d{1,6})\/(\d{1,6})$/.exec(text) ?? [];
  const read = { index: Number(index), of: Number(of) };
  if (!(read.index >= 1 && read.index <= read.of && read.of <= MOST_SHARDS))
    throw new InvalidArgumentError(
      `expected i/n, with n up to ${MOST_SHARDS} and i from 1 to n, e.g. 1/3, 2/3 and 3/3`,
    );
  return read;
};

/** For an option that may be given several times: all its values, in the order given. */
export const each =
  <T>(read: (text: string) => T) =>
  (text: string, before: readonly T[] | undefined): readonly T[] => [...(before ?? []), read(text)];
