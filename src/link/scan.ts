/**
 * A cursor over one frame's text: reads integers, tokens and separators, remembers the first thing that was
 * wrong, and never throws or runs past its end. After a failure every read returns at once.
 */
import type { Reject } from './frames.js';

/** Wire integers lie between int32 least and uint32 greatest, so firmware needs 64 bits only to compare. */
export const MIN_COUNT = -2147483648;
export const MAX_COUNT = 4294967295;
const MAX_DIGITS = 10;

const ZERO = 48;
const NINE = 57;
const MINUS = 45;
const COMMA = 44;

export class Scan {
  why: Reject | null = null;

  constructor(
    readonly text: string,
    public at: number,
    readonly end: number,
  ) {}

  fail(why: Reject): void {
    this.why ??= why;
  }

  get done(): boolean {
    return this.at >= this.end;
  }

  /** Char code at the cursor, -1 at the end. */
  peek(): number {
    return this.at < this.end ? this.text.charCodeAt(this.at) : -1;
  }

  /** Takes the given text or fails. */
  take(expected: string): boolean {
    if (
      this.why === null &&
      this.at + expected.length <= this.end &&
      this.text.startsWith(expected, this.at)
    ) {
      this.at += expected.length;
      return true;
    }
    this.fail('bad-grammar');
    return false;
  }

  /** Takes one comma if it stands here. */
  comma(): boolean {
    if (this.why === null && this.peek() === COMMA) {
      this.at++;
      return true;
    }
    return false;
  }

  /**
   * A decimal integer in its only permitted spelling (no plus, no leading zero, no minus zero), or NaN for an
   * empty value. The one spelling makes encode(decode(line)) equal to the line.
   */
  count(): number {
    const text = this.text;
    const end = this.end;
    let at = this.at;
    let code = at < end ? text.charCodeAt(at) : -1;
    const negative = code === MINUS;
    if (negative) code = ++at < end ? text.charCodeAt(at) : -1;
    const first = at;
    let n = 0;
    while (code >= ZERO && code <= NINE) {
      n = n * 10 + (code - ZERO);
      code = ++at < end ? text.charCodeAt(at) : -1;
    }
    const digits = at - first;
    this.at = at;
    if (digits === 0) {
      if (negative) this.fail('bad-grammar');
      return Number.NaN;
    }
    if (text.charCodeAt(first) === ZERO && (digits > 1 || negative)) {
      this.fail('bad-grammar');
      return Number.NaN;
    }
    if (digits > MAX_DIGITS || (negative ? -n < MIN_COUNT : n > MAX_COUNT)) {
      this.fail('out-of-range');
      return Number.NaN;
    }
    return negative ? -n : n;
  }

  /** An integer that must be there and lie within the bounds. */
  countWithin(least: number, greatest: number): number {
    const n = this.count();
    if (this.why !== null) return least;
    if (Number.isNaN(n)) this.fail('bad-grammar');
    else if (n < least || n > greatest) this.fail('out-of-range');
    else return n;
    return least;
  }

  /** Letters, digits, dot, underscore and dash, 1 to `most` of them. */
  token(most = 32): string {
    const first = this.at;
    while (this.at < this.end && this.at - first <= most && isTokenCode(this.text.charCodeAt(this.at)))
      this.at++;
    const length = this.at - first;
    if (length < 1 || length > most) this.fail('bad-grammar');
    return this.text.slice(first, this.at);
  }
}

const isTokenCode = (c: number): boolean =>
  (c >= 97 && c <= 122) ||
  (c >= ZERO && c <= NINE) ||
  (c >= 65 && c <= 90) ||
  c === 45 ||
  c === 46 ||
  c === 95;

/** Counts per unit where the scale is one over an integer, else 0. */
export function countsPerUnit(scale: number): number {
  const inverse = Math.round(1 / scale);
  return scale < 1 && Math.abs(inverse * scale - 1) < 1e-9 ? inverse : 0;
}

/** Worth of a count in the unit; divides where the scale is one over an integer, which rounds correctly. */
export function fromCount(count: number, scale: number): number {
  const perUnit = countsPerUnit(scale);
  return perUnit > 0 ? count / perUnit : count * scale;
}

/** Nearest count, or NaN when it cannot be expressed. */
export const toCount = (value: number, scale: number): number =>
  nearestCount(value, countsPerUnit(scale), scale);

/** The same where the counts per unit are known already. */
export function nearestCount(value: number, perUnit: number, scale: number): number {
  const exact = perUnit > 0 ? value * perUnit : value / scale;
  const count = Math.round(exact) + 0; // + 0 turns minus zero into zero
  return count >= MIN_COUNT && count <= MAX_COUNT ? count : Number.NaN;
}

/** As written on the wire: what cannot be read or expressed is empty, and fails wherever it is checked. */
export const countText = (count: number): string => (Number.isNaN(count) ? '' : String(count));
