/**
 * A recorded charge or discharge of one cell, and what its rows mean between them: charge counted, steps of the
 * current, the stretch that was charged by constant current and then by constant voltage.
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
/** Below this share of the largest current nothing flows. */
const QUIET_SHARE = 0.005;
/** A step that shows less than this share of what the others show was read before the volts moved. */
const UNMOVED_SHARE = 0.25;
/** Loggers write the row after a step within this. */
const STEP_LOG_S = 5;
/** Within this of the end value the voltage counts as held, and within this share the current as constant. */
const HELD_V = 0.0015;
const CONSTANT_SHARE = 0.02;
/** Charging that ends at more than this share of its constant current held no voltage. */
const TAPERED_SHARE = 0.9;
/** A shorter rest says nothing of the open-circuit volts. */
const REST_S = 600;

export const largestA = (record: ChargeRecord): number =>
  record.currentA.reduce((most, a) => Math.max(most, Math.abs(a)), 0);

export const quietA = (record: ChargeRecord): number => QUIET_SHARE * largestA(record);

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

/**
 * Median of volts over amps at the large steps of the current; NaN when none was caught at once. Steps whose volts
 * were read before they moved do not count.
 */
export function stepOhm(record: ChargeRecord): number {
  const least = 2 * STEP_SHARE * largestA(record);
  const found: number[] = [];
  for (let k = 1; k < record.timeS.length; k++) {
    const stepA = record.currentA[k]! - record.currentA[k - 1]!;
    const within = record.timeS[k]! - record.timeS[k - 1]! <= STEP_LOG_S;
    if (within && Math.abs(stepA) >= least)
      found.push((record.voltageV[k]! - record.voltageV[k - 1]!) / stepA);
  }
  const most = Math.max(...found);
  return median(found.filter((ohm) => ohm > UNMOVED_SHARE * most));
}

/** Rows at which the cell had rested: the first one when nothing flows, and the end of each long rest. */
export function restedRows(record: ChargeRecord): number[] {
  const { timeS, currentA } = record;
  const quiet = quietA(record);
  const rests = (k: number): boolean => Math.abs(currentA[k]!) <= quiet;
  const rows: number[] = [];
  let beganS = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < timeS.length; k++) {
    if (!rests(k)) beganS = Number.NaN;
    else if (Number.isNaN(beganS)) beganS = timeS[k]!;
    const ends = rests(k) && (k + 1 === timeS.length || !rests(k + 1));
    if (ends && timeS[k]! - beganS >= REST_S) rows.push(k);
  }
  return rows;
}

/**
 * A record with fewer rows: every step and its neighbourhood, and between them every n-th row. A fit gains nothing
 * from more rows than its model errors leave independent.
 */
export function thinned(record: ChargeRecord, most: number): ChargeRecord {
  const n = record.timeS.length;
  if (n <= most) return record;
  const largest = largestA(record);
  const stride = Math.ceil((2 * n) / most);
  const keep: number[] = [];
  let sinceStep = 0;
  for (let k = 0; k < n; k++) {
    const stepped = k > 0 && Math.abs(record.currentA[k]! - record.currentA[k - 1]!) > STEP_SHARE * largest;
    if (stepped && keep.at(-1) !== k - 1) keep.push(k - 1);
    sinceStep = stepped ? 0 : sinceStep + 1;
    // After a step at 1, 2, 4, 8 … rows, as its answer slows down.
    const near = sinceStep < stride && (sinceStep & (sinceStep - 1)) === 0;
    if (stepped || near || sinceStep % stride === 0 || k === n - 1) keep.push(k);
  }
  const pick = (values: Float64Array): Float64Array => Float64Array.from(keep, (k) => values[k]!);
  const { timeS, currentA, voltageV, cellC } = record;
  return {
    timeS: pick(timeS),
    currentA: pick(currentA),
    voltageV: pick(voltageV),
    ...(cellC === undefined ? {} : { cellC: pick(cellC) }),
  };
}

/** The last stretch of a record that charges at a constant current and then at a constant voltage. */
export interface ChargeStretch {
  /** First and last row with a charging current. */
  readonly firstRow: number;
  readonly lastRow: number;
  readonly constantA: number;
  /** The voltage held at the end. */
  readonly limitV: number;
  /** The current at which it ended. */
  readonly endA: number;
  /** A step lies at the beginning of its interval; a record that begins charging begins with it. */
  readonly startS: number;
  readonly ccTimeS: number;
  readonly chargeAh: number;
}

/** Null when nothing charges, or the charge ends before a voltage is held. */
export function chargeStretch(record: ChargeRecord): ChargeStretch | null {
  const { timeS, currentA, voltageV } = record;
  const quiet = quietA(record);
  let lastRow = currentA.length - 1;
  while (lastRow >= 0 && !(currentA[lastRow]! > quiet)) lastRow--;
  if (lastRow < 0) return null;
  let firstRow = lastRow;
  while (firstRow > 0 && currentA[firstRow - 1]! > quiet) firstRow--;
  const half = firstRow + Math.ceil((lastRow - firstRow + 1) / 2);
  const constantA = median(currentA.subarray(firstRow, half));
  const limitV = median(voltageV.subarray(Math.max(firstRow, lastRow - 4), lastRow + 1));
  const endA = currentA[lastRow]!;
  if (!(endA < TAPERED_SHARE * constantA)) return null;
  const heldV = limitV - HELD_V;
  let held = firstRow;
  while (held < lastRow && voltageV[held]! < heldV && currentA[held]! > (1 - CONSTANT_SHARE) * constantA) {
    held++;
  }
  // Between two rows the voltage runs straight to the limit.
  const before = Math.max(firstRow, held - 1);
  const rise = voltageV[held]! - voltageV[before]!;
  const share = rise > 0 ? Math.min(1, Math.max(0, heldV - voltageV[before]!) / rise) : 0;
  const heldS = timeS[before]! + share * (timeS[held]! - timeS[before]!);
  const startRow = Math.max(0, firstRow - 1);
  const startS = timeS[startRow]!;
  const counted = countedAh(record);
  return {
    firstRow,
    lastRow,
    constantA,
    limitV,
    endA,
    startS,
    ccTimeS: heldS - startS,
    chargeAh: counted[lastRow]! - counted[startRow]!,
  };
}

export function median(values: ArrayLike<number>): number {
  const sorted = Array.from(values).sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  if (sorted.length === 0) return Number.NaN;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
