/**
 * What a SCPI instrument answers, as numbers: NR1, NR2 and NR3 of IEEE 488.2 (integer, fraction, exponent), and the
 * marks of SCPI-1999 7.2.1.4 and 7.2.1.5 for infinity (9.9E37, -9.9E37) and "not a number" (9.91E37), which are what
 * an input that is out of range answers. Marks become NaN, so that they fail every check.
 */

/** Numbers from here on are marks; the standard lets no instrument measure them. */
export const OVERLOAD_FROM = 9.9e37;
const LONGEST = 32;
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)(E[+-]?\d{1,3})?$/i;

export type Answer =
  | { readonly is: 'number'; readonly value: number }
  | { readonly is: 'overload' }
  | { readonly is: 'garbage' };

export function scpiNumber(text: string): Answer {
  const trimmed = text.trim();
  if (trimmed.length > LONGEST || !NUMBER.test(trimmed)) return { is: 'garbage' };
  const value = Number(trimmed);
  return Math.abs(value) >= OVERLOAD_FROM ? { is: 'overload' } : { is: 'number', value };
}

export interface ScpiError {
  /** 0: none. */
  readonly number: number;
  readonly text: string;
}

/** `-222,"Data out of range"`, as SYSTem:ERRor? answers; null for anything else. */
export function scpiError(text: string): ScpiError | null {
  const found = /^\s*([+-]?\d{1,6})\s*,\s*"(.{0,255})"\s*$/.exec(text);
  return found ? { number: Number(found[1]), text: found[2] as string } : null;
}

/**
 * The four fields of `*IDN?` (IEEE 488.2 10.14): maker, model, serial number, firmware. A field that is not known is
 * "0" by the standard.
 */
export function scpiIdentity(text: string): { model: string; serial: string; firmware: string } | null {
  const fields = text.split(',').map((f) => f.trim());
  if (fields.length !== 4) return null;
  const [, model = '', serial = '', firmware = ''] = fields;
  return { model, serial, firmware };
}

/** A figure as a message carries it: rounded down to the step, never in exponents. */
export function figureText(value: number, step: number): string {
  const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
  return roundedDown(value, step).toFixed(digits);
}

/** Down to a multiple of the step; the small part keeps 0.3 from becoming 0.2 in binary. */
export const roundedDown = (value: number, step: number): number => Math.floor(value / step + 1e-6) * step;
