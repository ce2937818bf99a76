/**
 * The command map of an instrument that stands behind a port: how a DC source, a power module or a meter that
 * speaks SCPI (SCPI-1999, IEEE 488.2) or Modbus RTU is told and read. One map, one instrument, one role.
 *
 * A map names the instrument's *own* communication watchdog, or says that it has none and what hard-wired stop
 * takes its place: when the supervising process dies, an output that nobody switches off stays on.
 */
import { z } from 'zod';
import { ROLES } from './roles.js';
import { limit, name, nonNegative, positive } from './schema-parts.js';

/** What a map may read for each role; `outputOn` and `fault` are of the instrument, the rest are fields of the role. */
export const CONVERTER_READS = [
  'outputV',
  'outputA',
  'outputOn',
  'setpointA',
  'limitV',
  'temperatureC',
  'fault',
] as const;
/** Of an electronic load or a bidirectional source at its own terminals, amps positive into it. */
export const LOAD_READS = ['loadV', 'loadA', 'outputOn', 'fault'] as const;
export const METER_READS = ROLES.meter.fields.map((f) => f.name).filter((f) => f !== 'sample');

/** Printable ASCII in one line; `{A}`, `{V}`, `{s}` and `{ms}` stand for a figure. */
const message = z
  .string()
  .regex(/^[\x20-\x7e]{1,200}$/, 'one line of printable ASCII, at most 200 characters');
const field = z
  .string()
  .regex(/^(-|[a-z][A-Za-z]*)$/, 'the name of a reading, or - for one that is not used');
const scaled = {
  scale: z.number().describe('the reading is the number × scale + offset').default(1),
  offset: z.number().default(0),
};
const count = (most: number) => z.number().int().min(0).max(most);

const head = {
  name,
  title: z.string().min(3),
  note: z.string().optional(),
  role: z
    .enum(['converter', 'meter', 'load'])
    .describe('`load`: stands in for a train, see `emulate-battery`; never behind a port of a rig'),
  calibratedOn: count(99991231).min(19000101).describe('day of the last calibration, yyyymmdd'),
  limits: z
    .strictObject({ maxCurrentA: limit(positive()), maxVoltageV: limit(positive()) })
    .describe('what the instrument is held to, whatever it is asked'),
  timing: z.strictObject({
    /** No answer within this: trouble. */
    answerMs: z.number().int().min(5).max(300).describe('an answer that takes longer counts as none'),
    latencyMs: nonNegative().describe('the longest the instrument thinks about one message, for the budget'),
    gapMs: z.number().int().min(1).max(50).describe('pause after an answer before the next message'),
  }),
  hardWiredStop: z
    .string()
    .min(20)
    .describe('with `watchdog: none`: what takes the output off when the supervising process dies')
    .optional(),
  steps: z
    .strictObject({ currentA: positive(), voltageV: positive() })
    .describe('smallest steps of the set-points; what is asked is rounded down to them')
    .optional(),
};

const watchdogTime = limit(z.number().int().min(30).max(10_000));

// ---- SCPI ---------------------------------------------------------------------------------------------

const scpiSetting = z.strictObject({
  say: message.describe('sent once when the port is opened'),
  ask: message.optional().describe('read back after it'),
  expect: z.number().optional().describe('what must be read back'),
});

export const scpiSchema = z.strictObject({
  speaks: z.literal('scpi'),
  ...head,
  identity: z.strictObject({
    ask: message.default('*IDN?'),
    model: z.string().min(1).describe('second field of the answer: another instrument is not taken'),
  }),
  errors: z.strictObject({ ask: message }).describe('the error queue, read after each action'),
  opening: z.array(scpiSetting).max(16).default([]),
  watchdog: z
    .union([
      z.literal('none'),
      z.strictObject({ say: message, ask: message, unit: z.enum(['s', 'ms']), timeMs: watchdogTime }),
    ])
    .optional(),
  actions: z
    .strictObject({ outputOn: message, outputOff: message, setCurrent: message, setVoltage: message })
    .optional(),
  join: z.boolean().default(true).describe('reads are joined into one message with `;:`'),
  reads: z
    .array(
      z.strictObject({
        ask: message,
        fields: z
          .array(z.union([field, z.strictObject({ field, ...scaled })]))
          .min(1)
          .max(32)
          .describe('what the numbers of the answer are, in their order'),
      }),
    )
    .min(1)
    .max(16),
});

// ---- Modbus RTU ---------------------------------------------------------------------------------------

const words = {
  type: z.enum(['u16', 'i16', 'u32', 'i32', 'f32']),
  order: z.enum(['high-first', 'low-first']).default('high-first').describe('which word of two comes first'),
};
const target = z.strictObject({
  address: count(65535),
  ...words,
  scale: z.number().positive().default(1).describe('the register holds the figure ÷ scale'),
});

export const modbusSchema = z.strictObject({
  speaks: z.literal('modbus'),
  ...head,
  unit: z.number().int().min(1).max(247).describe('address of the station'),
  identity: z
    .strictObject({
      table: z.enum(['holding', 'input']),
      address: count(65535),
      registers: z.number().int().min(1).max(32),
      model: z.string().min(1).describe('text in the registers, two characters each, NUL at the end'),
    })
    .describe('another instrument is not taken'),
  opening: z
    .array(z.strictObject({ write: target, value: z.number(), readBack: z.boolean().default(true) }))
    .max(16)
    .default([]),
  watchdog: z
    .union([
      z.literal('none'),
      z.strictObject({ write: target, unit: z.enum(['s', 'ms']), timeMs: watchdogTime }),
    ])
    .optional(),
  actions: z
    .strictObject({
      output: z.strictObject({ address: count(65535), on: count(65535), off: count(65535) }),
      setCurrent: target,
      setVoltage: target,
    })
    .optional(),
  reads: z
    .array(
      z.strictObject({
        table: z.enum(['holding', 'input']),
        address: count(65535),
        registers: z.number().int().min(1).max(64),
        values: z
          .array(
            z.strictObject({
              field,
              at: count(63).describe('register within the block, from 0'),
              ...words,
              ...scaled,
              unreadable: z.number().optional().describe('the count that says: cannot be read'),
            }),
          )
          .min(1)
          .max(32),
      }),
    )
    .min(1)
    .max(8),
});

export type ScpiMap = z.output<typeof scpiSchema>;
export type ModbusMap = z.output<typeof modbusSchema>;
export type InstrumentMap = ScpiMap | ModbusMap;

/** Names of the readings of a map, in their order, `-` left out. */
export function readNames(map: InstrumentMap): string[] {
  const all =
    map.speaks === 'scpi'
      ? map.reads.flatMap((r) => r.fields.map((f) => (typeof f === 'string' ? f : f.field)))
      : map.reads.flatMap((r) => r.values.map((v) => v.field));
  return all.filter((f) => f !== '-');
}

export function instrumentJsonSchema(): { [key: string]: unknown } {
  const { $schema, ...either } = z.toJSONSchema(z.union([scpiSchema, modbusSchema]), { io: 'input' });
  return {
    $schema,
    title: 'loopwarden instrument',
    description:
      'Live DC kills. How an instrument behind a port is told and read; an output that nobody switches off stays on.',
    ...either,
  };
}
