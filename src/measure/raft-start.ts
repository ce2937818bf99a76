/** Capacity, and the state of charge at which each recording begins, before anything is fitted. */
import { type ChargeRecord, countedAh, quietA, restedRows } from './charge-record.js';
import type { OcvCurve } from './ocv-table.js';

/** A recording to be fitted. */
export interface FitRecord {
  readonly record: ChargeRecord;
  /** 0 to 1, at the first row; else by the table when the cell rested, else the top of the counted charge is full. */
  readonly socStart?: number;
  /** Where the recording has no temperature. */
  readonly cellC?: number;
}

export interface Starts {
  readonly capacityAh: number;
  readonly socs: readonly number[];
  /** Standard deviations of those against each other. */
  readonly sds: readonly number[];
}

/** Rests closer together say too little of the capacity. */
const APART_SOC = 0.3;
/** As told, by a rest and the table, and by taking the highest charge counted as full. */
const TOLD_SD = 0.002;
const RESTED_SD = 0.01;
const COUNTED_SD = 0.03;

/** @param toldAh the capacity, if it was told */
export function startsOf(
  recordings: readonly FitRecord[],
  toldAh: number | undefined,
  table: OcvCurve | null,
): Starts {
  const counts = recordings.map((each) => countOf(each.record, table));
  let capacityAh = toldAh ?? Number.NaN;
  if (!(capacityAh > 0)) {
    const rested = counts.filter((c) => c.apart > APART_SOC);
    const by = rested.reduce((sum, c) => sum + c.apart, 0);
    // Each counts for as much as its rests lie apart.
    capacityAh =
      rested.length > 0
        ? rested.reduce((sum, c) => sum + c.apartAh, 0) / by
        : counts.reduce((most, c) => Math.max(most, c.mostAh - c.leastAh), 0);
  }
  const socs = recordings.map(({ socStart }, j) => {
    const { restedSoc, mostAh } = counts[j]!;
    return socStart ?? restedSoc ?? 1 - mostAh / capacityAh;
  });
  const sds = recordings.map(({ socStart }, j) => {
    if (socStart !== undefined) return TOLD_SD;
    return counts[j]!.restedSoc === undefined ? COUNTED_SD : RESTED_SD;
  });
  return { capacityAh, socs, sds };
}

interface Count {
  readonly mostAh: number;
  readonly leastAh: number;
  /** Between the lowest and the highest rest, by the table. */
  readonly apart: number;
  readonly apartAh: number;
  /** At the first row, if the cell rested there and there is a table. */
  readonly restedSoc: number | undefined;
}

function countOf(record: ChargeRecord, table: OcvCurve | null): Count {
  const counted = countedAh(record);
  const rests =
    table === null
      ? []
      : restedRows(record).map((k) => ({ ah: counted[k]!, soc: table.inverse(record.voltageV[k]!) }));
  const none = { ah: 0, soc: 0 };
  const low = rests.reduce((a, b) => (b.soc < a.soc ? b : a), rests[0] ?? none);
  const high = rests.reduce((a, b) => (b.soc > a.soc ? b : a), rests[0] ?? none);
  return {
    mostAh: counted.reduce((a, b) => Math.max(a, b), 0),
    leastAh: counted.reduce((a, b) => Math.min(a, b), 0),
    apart: high.soc - low.soc,
    apartAh: high.ah - low.ah,
    restedSoc: Math.abs(record.currentA[0]!) <= quietA(record) ? rests[0]?.soc : undefined,
  };
}
