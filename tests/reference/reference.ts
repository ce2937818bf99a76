/**
 * One row of the table of references: a quantity computed by us, the same from outside the project, and how
 * far they may part. `npm run references` prints all rows; in `npm test` each is a test like any other.
 */
import { expect, test } from 'vitest';

/** How far the source is to be trusted; the words are those of the reference values. */
export type Trust = 'published' | 'memory' | 'practice' | 'computed';

export interface Tolerance {
  /** Of the reference's magnitude, or of `of` when given. */
  readonly share?: number;
  /** What the share is taken of, in the unit of the quantity, e.g. the peak of a waveform. */
  readonly of?: number | (() => number | Promise<number>);
  /** In the unit of the quantity. The larger of both counts. */
  readonly absolute?: number;
}

export interface ReferenceCase {
  readonly quantity: string;
  readonly unit: string;
  readonly ours: () => number | Promise<number>;
  readonly reference: () => number | Promise<number>;
  readonly tolerance: Tolerance;
  readonly source: string;
  readonly trust: Trust;
  readonly timeoutMs?: number;
}

/** What the reporter prints. Numbers that are not finite arrive as null: a task's meta is JSON. */
export interface ReferenceRow {
  readonly quantity: string;
  readonly unit: string;
  readonly ours: number | null;
  readonly reference: number | null;
  readonly deviation: number | null;
  /** In the unit of the quantity. */
  readonly allowed: number;
  /** As declared, e.g. `0.5 % of peak`. */
  readonly tolerance: string;
  readonly source: string;
  readonly trust: Trust;
}

declare module 'vitest' {
  interface TaskMeta {
    reference?: ReferenceRow;
    /** Lines for people, printed below the table, e.g. a confusion table. */
    notes?: readonly string[];
  }
}

const finite = (x: number): number | null => (Number.isFinite(x) ? x : null);

function declared({ share, of, absolute }: Tolerance, unit: string): string {
  const parts: string[] = [];
  if (share !== undefined) {
    // Spelled by toPrecision: 0.001 × 100 is 0.1 only so.
    parts.push(`${Number((share * 100).toPrecision(6))} %${of === undefined ? '' : ' of peak'}`);
  }
  if (absolute !== undefined) parts.push(`${absolute}${unit && ` ${unit}`}`);
  return parts.join(' or ');
}

/** Registers one test that holds ours against the reference and leaves a row for the table. */
export function reference(each: ReferenceCase): void {
  test(each.quantity, { timeout: each.timeoutMs ?? 30_000 }, async ({ task }) => {
    const ours = await each.ours();
    const value = await each.reference();
    const { share = 0, of, absolute = 0 } = each.tolerance;
    const base = of === undefined ? Math.abs(value) : typeof of === 'number' ? of : await of();
    const allowed = Math.max(share * base, absolute);
    const deviation = ours - value;
    task.meta.reference = {
      quantity: each.quantity,
      unit: each.unit,
      ours: finite(ours),
      reference: finite(value),
      deviation: finite(deviation),
      allowed,
      tolerance: declared(each.tolerance, each.unit),
      source: each.source,
      trust: each.trust,
    };
    expect(
      Math.abs(deviation) <= allowed,
      `${each.quantity}: ours ${ours} ${each.unit}, reference ${value} ${each.unit}, apart ${deviation}, ` +
        `allowed ${allowed} (${each.source})`,
    ).toBe(true);
  });
}
