/**
 * The tables journals become: names, columns, units. The one place that knows them; src/fleet/TABLES.md is held
 * against it by a test. Readings are one wide table for each role, in the names and units of the dictionary.
 */
import { ORDERS } from '../rig/orders.js';
import { ROLE_NAMES, ROLES, type Role } from '../rig/roles.js';

export type ColumnType = 'VARCHAR' | 'DOUBLE' | 'INTEGER' | 'BOOLEAN' | 'TIMESTAMP';

export interface Column {
  readonly name: string;
  readonly type: ColumnType;
  readonly unit: string;
  readonly text: string;
}

export interface Table {
  readonly name: string;
  readonly text: string;
  /** Behind `rig` and `month`, which every table has and by which the files are parted. */
  readonly columns: readonly Column[];
}

/** `null` is what could not be read, or does not apply. */
export type Cell = string | number | boolean | null;

const col =
  (type: ColumnType) =>
  (name: string, unit: string, text: string): Column => ({ name, type, unit, text });
const words = col('VARCHAR');
const figure = col('DOUBLE');
const whole = col('INTEGER');
const yes = col('BOOLEAN');
const time = col('TIMESTAMP');

/** By which every table is parted. */
export const PARTED_BY: readonly Column[] = [
  words('rig', '', 'name of the rig'),
  words('month', '', 'in which the session began, UTC, e.g. 2031-04'),
];

/** How a row is found again in its journal. */
const PLACE: readonly Column[] = [
  words('journal', '', 'path of the journal below the folder; joins all tables'),
  whole('n', '', 'number of the record'),
  figure('tMs', 'ms', 'monotonic time since the header'),
  time('wallTime', 'UTC', 'wall time: that of the last clock record plus what passed since'),
];

const FOUND: readonly Column[] = [
  figure('reading', 'see unit', 'what was read'),
  figure('limitValue', 'see unit', 'what it was held against'),
  words('unit', '', 'of both'),
  words('setting', '', 'key of the rig the limit comes from'),
];

const SESSIONS: Table = {
  name: 'sessions',
  text: 'one row a journal whose header could be read, sound or not',
  columns: [
    words('journal', '', 'path of the journal below the folder; joins all tables'),
    words('record', '', 'row of the table in src/journal/FORMAT.md, e.g. clean, unfinished, bad-block'),
    yes(
      'intact',
      '',
      'the record is as it was written up to its last seal; all other tables are of these only',
    ),
    words('trouble', '', 'what is wrong, in words'),
    words('signed', '', 'no, or not-checked: keys are the business of `audit`'),
    words('nonce', '', 'of the session'),
    words('software', '', 'that wrote it'),
    words('rigHash', '', 'SHA-256 of the rig as used'),
    words('clock', '', 'real, or virtual for a rehearsal: its times are invented'),
    words('askedBy', '', 'who asked for the session'),
    time('startedAt', 'UTC', 'wall time of the header'),
    whole('records', '', 'lines'),
    words('outcome', '', 'released, tripped, refused; carried out: an acknowledgement, a plug freed'),
    words('endReason', '', 'code or reason of the end'),
    yes('provenDead', '', 'everything was proven dead at the end'),
    figure('durationS', 's', 'from start to end'),
    figure('toldKwh', 'kWh', 'to the battery, as the session told it'),
    figure('toBatteryKwh', 'kWh', 'to the battery, integrated anew from the received lines'),
    figure('fromSupplyKwh', 'kWh', 'from the supply, likewise'),
    figure('lossConverterKwh', 'kWh', 'likewise'),
    figure('lossCableKwh', 'kWh', 'cable and contacts, likewise'),
    figure('lossTrainKwh', 'kWh', 'likewise'),
    figure('peakCurrentA', 'A', 'greatest current'),
    figure('peakRampAPerS', 'A/s', 'steepest rise'),
    figure('socStart', 'share', 'state of charge 0..1'),
    figure('socEnd', 'share', 'state of charge 0..1'),
    figure('residualVoltageAtReleaseV', 'V', 'when the plug was freed'),
    words('tripCode', '', 'first finding that latched'),
    words('tripPart', '', 'what it was found on'),
    words('tripPhase', '', 'phase in which it was decided'),
    figure('loopSeriesOhm', 'ohm', 'pilot loop while presence was proven'),
    figure('loopLeakageUs', 'uS', 'pilot loop while presence was proven; 0 when none could be seen'),
    figure('isolationChargerOhm', 'ohm', 'figure of the isolation proof'),
    figure('isolationCableOhm', 'ohm', 'figure of the isolation proof'),
    words('invariantsBroken', '', 'ids with commas; empty when all hold'),
  ],
};

const EVENTS: Table = {
  name: 'events',
  text: 'what happened, in the words of `audit`',
  columns: [
    ...PLACE,
    words(
      'kind',
      '',
      'person, phase, finding, trip, order, dropped, refusal, limit, port, device, fault, end',
    ),
    words('text', '', 'in words; of a phase its name'),
  ],
};

const FINDINGS: Table = {
  name: 'findings',
  text: 'findings as they began and ended',
  columns: [
    ...PLACE,
    words('code', '', 'see `loopwarden codes`'),
    words('part', '', 'what it was found on'),
    yes('failing', '', 'true when it begins, false when it is over'),
    ...FOUND,
  ],
};

const REFUSALS: Table = {
  name: 'refusals',
  text: 'what was asked and not done',
  columns: [
    ...PLACE,
    words('asked', '', 'the order'),
    words('askedBy', '', 'the person'),
    words('code', '', 'see `loopwarden codes`'),
    words('part', '', 'what it was found on'),
    ...FOUND,
    words('text', '', 'why'),
    words('remedy', '', 'what would permit it'),
  ],
};

/** Arguments of orders with their units; `on` is a word of SQL. */
export const ARGUMENTS: ReadonlyMap<string, Column> = new Map(
  Object.values(ORDERS).flatMap(({ args }) =>
    args.map(
      ({ name, unit }) => [name, figure(name === 'on' ? 'switchedOn' : name, unit, 'argument')] as const,
    ),
  ),
);

const ORDERS_TABLE: Table = {
  name: 'orders',
  text: 'orders that left for a device, one row each; an argument an order does not have is null',
  columns: [
    ...PLACE,
    whole('port', '', 'from 0, in the order of the rig'),
    whole('seq', '', 'sequence number of the frame'),
    yes('sent', '', 'the port took it'),
    words('name', '', 'of the order'),
    ...ARGUMENTS.values(),
  ],
};

/** Counters, flags and enumerations are whole numbers. */
function readingColumns(role: Role): Column[] {
  return ROLES[role].fields.map(({ name, unit, text }) =>
    unit === '' && name !== 'soc'
      ? whole(name, unit, text)
      : figure(name, name === 'soc' ? 'share' : unit, text),
  );
}

export const readingsTable = (role: Role): string => `readings_${role}`;

const READINGS: readonly Table[] = ROLE_NAMES.map((role) => ({
  name: readingsTable(role),
  text: `${ROLES[role].text}; one row a report`,
  columns: [
    ...PLACE,
    whole('port', '', 'it came from; from 0, in the order of the rig'),
    ...(role === 'raft' ? [whole('raft', '', 'number of the raft, from 1')] : []),
    ...readingColumns(role),
  ],
}));

export const TABLES: readonly Table[] = [SESSIONS, EVENTS, FINDINGS, REFUSALS, ORDERS_TABLE, ...READINGS];
export const TABLE_NAMES: readonly string[] = TABLES.map(({ name }) => name);
/** A row as it is made: parted by rig and month, then its columns. */
export const columnsOf = (table: Table): readonly Column[] => [...PARTED_BY, ...table.columns];
