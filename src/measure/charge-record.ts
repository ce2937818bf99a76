/**
 * A recorded charge or discharge of one cell (or of one string, read per cell), and what its rows mean between
 * them: charge counted, steps of the current, the stretch that was charged by constant current and then by
 * constant voltage.
 */
export interface ChargeRecord {
  readonly timeS: Float64Array;
  /** Charging positive. */
  readonly currentA: Float64Array;
  readonly voltageV: Float64Array;
  /** Of the cell, where it was logged. */
  readonly cellC?: Float64Array;
}

/** A change of the current by more than this share of its largest value, from one row to the next, is a step. */
const STEP_SHARE = 0.2;
/** Within this of its end value the voltage counts as held, and the current as constant within this share. */
const HELD_V = 0.0015;
const CONSTANT_SHARE = 0.02;

export const largestA = (record: ChargeRecord): number =>
  record.currentA.reduce((most, a) => Math.max(most, Math.abs(a)), 0);

/**
 * The current right after row k − 1, from which it is taken to run straight to that of row k. Loggers write a row
 * after a step, seldom one before it, so a step is taken to lie at the beginning of its interval.
 */
export function fromA(record: ChargeRecord, k: number, largest: number): number {
  const before = record.currentA[k - 1]!;
  const now = record.currentA[k]!;
  const stepped = Math.abs(now - before) > STEP_SHARE * largest || before === 0 || now === 0;
  return stepped ? now : before;
}

/** Ampere hours since the first row. */
export function countedAh(record: ChargeRecord): Float64Array {
  const counted = new Float64Array(record.timeS.length);
  const largest = largestA(record);
  for (let k = 1; k < counted.length; k++) {
    const stepS = record.timeS[k]! - record.timeS[k - 1]!;
    const meanA = (fromA(record, k, largest) + record.currentA[k]!) / 2;
    counted[k] = counted[k - 1]! + (meanA * stepS) / 3600;
  }
  return counted;
}

/** The last stretch of a record that charges at a constant current and then at a constant voltage. */
export interface ChargeStretch {
  /** First row with the charging current. */
  readonly firstRow: number;
  /** Last row with a charging current. */
  readonly lastRow: number;
  readonly constantA: number;
  /** The voltage held at the end. */
  readonly limitV: number;
  /** The current at which it ended. */
  readonly endA: number;
  readonly ccTimeS: number;
  readonly chargeAh: number;
}

/** Null when nothing charges, or the charge ends before a voltage is held. */
export function chargeStretch(record: ChargeRecord): ChargeStretch | null {
  const { timeS, currentA, voltageV } = record;
  const quiet = 0.005 * largestA(record);
  let lastRow = currentA.length - 1;
  while (lastRow >= 0 && !(currentA[lastRow]! > quiet)) lastRow--;
  if (lastRow < 0) return null;
  let firstRow = lastRow;
  while (firstRow > 0 && currentA[firstRow - 1]! > quiet) firstRow--;
  const constantA = median(currentA.subarray(firstRow, firstRow + Math.ceil((lastRow - firstRow + 1) / 2)));
  const limitV = median(voltageV.subarray(Math.max(firstRow, lastRow - 4), lastRow + 1));
  const endA = currentA[lastRow]!;
  if (!(endA < 0.9 * constantA)) return null;
  let held = firstRow;
  while (
    held < lastRow &&
    voltageV[held]! < limitV - HELD_V &&
    currentA[held]! > (1 - CONSTANT_SHARE) * constantA
  )
    held++;
  // Between two rows the voltage runs straight to the limit.
  const rise = voltageV[held]! - voltageV[Math.max(firstRow, held - 1)]!;
  const missing = Math.max(0, limitV - HELD_V - voltageV[Math.max(firstRow, held - 1)]!);
  const share = rise > 0 && held > firstRow ? Math.min(1, missing / rise) : 0;
  const previous = Math.max(firstRow, held - 1);
  const startS = startOf(record, firstRow);
  const heldS = timeS[previous]! + share * (timeS[held]! - timeS[previous]!);
  const counted = countedAh(record);
  return {
    firstRow,
    lastRow,
    constantA,
    limitV,
    endA,
    ccTimeS: heldS - startS,
    chargeAh: counted[lastRow]! - counted[Math.max(0, firstRow - 1)]!,
  };
}

/** A step lies at the beginning of its interval; a record that begins charging begins with it. */
function startOf(record: ChargeRecord, firstRow: number): number {
  return record.timeS[Math.max(0, firstRow - 1)]!;
}

export function median(values: Float64Array): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  if (sorted.length === 0) return Number.NaN;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
