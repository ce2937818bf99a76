/**
 * A scenario: how the world stands at the start, what is asked, what goes wrong when, and how it must end.
 * Reading the file is the command line's job; this takes its text.
 */
import { LineCounter, parseDocument } from 'yaml';
import { z } from 'zod';
import type { RandomSource } from '../src/host/random.js';
import { MAX_RAFTS, PHASES } from '../src/rig/roles.js';
import { FAULT_NAMES, FAULTS, type FaultDefinition } from './faults.js';

const kebab = z.string().regex(/^[a-z0-9][a-z0-9-]{0,47}$/, 'lower case letters, digits and dashes');
const share = z.number().min(0).max(1);
const celsius = z.number().min(-40).max(90);
const seconds = z.number().min(0).max(36_000);
const phase = z.enum(PHASES);

export const startSchema = z.strictObject({
  soc: share.optional().describe('state of charge of every raft that does not state its own'),
  cellC: celsius.optional(),
  ambientC: celsius.optional().describe('air and coolant'),
  rafts: z
    .array(
      z.strictObject({
        soc: share.optional(),
        cellC: celsius.optional(),
        spreadV: z.number().min(0).max(1).optional().describe('highest cell minus lowest cell'),
      }),
    )
    .max(MAX_RAFTS)
    .optional()
    .describe('one per raft, in rig order'),
  generatorRunning: z.boolean().optional(),
  supply: z
    .strictObject({
      soc: share.optional().describe('of a store'),
      fuelL: z.number().min(0).optional().describe('of a set whose rig gives a tank'),
      hour: z.number().min(0).max(24).optional().describe('of the day, for a renewable profile'),
    })
    .optional(),
  plugLocked: z.boolean().optional().describe('left locked by an earlier session'),
  latched: z.boolean().optional().describe('an earlier trip is still latched, on disk and in the device'),
});
export type Start = z.output<typeof startSchema>;

export const wishSchema = z.strictObject({
  targetSoc: share.optional(),
  targetEnergyKwh: z.number().positive().optional(),
  maxS: z.number().positive().optional().describe('longest session'),
  maxCurrentA: z.number().positive().optional().describe('no more current than this'),
});

export const injectionSchema = z
  .strictObject({
    fault: z.enum(FAULT_NAMES as unknown as readonly [keyof typeof FAULTS, ...(keyof typeof FAULTS)[]]),
    phase: z.union([phase, z.literal('start')]).describe('timed from the first appearance of this phase'),
    afterS: seconds.optional(),
    magnitude: z.number().optional().describe('unit and default: see the table of faults'),
    part: z.string().min(1).max(40).optional(),
    durationS: seconds.optional().describe('removed again after this'),
  })
  .describe('one fault');

export const scenarioOrderSchema = z.strictObject({
  order: z.enum(['start', 'stop', 'trip-now', 'acknowledge', 'free-plug', 'limit-current', 'sample-pilot']),
  currentA: z.number().optional().describe('with limit-current'),
  phase,
  afterS: seconds.optional(),
});

export const expectSchema = z.strictObject({
  outcome: z.enum(['released', 'tripped', 'refused']),
  code: kebab.optional(),
  phase: phase.optional(),
  effect: z.enum(['note', 'derate', 'stop', 'trip-1', 'trip-0', 'refuse']).optional(),
  exit: z.number().int().min(0).max(9),
  endReason: kebab.optional(),
  note: z.string().optional(),
});

export const scenarioSchema = z.strictObject({
  name: kebab,
  title: z.string().min(3),
  rig: kebab.describe('name of the rig file'),
  seed: z.number().int().min(0).max(0xffffffff),
  start: startSchema.default({}),
  wish: wishSchema,
  inject: z.array(injectionSchema).max(16).default([]),
  orders: z.array(scenarioOrderSchema).max(16).default([]),
  expect: expectSchema,
});
export type Scenario = z.output<typeof scenarioSchema>;

/** One thing wrong with a scenario text, where it stands, in words. */
export interface ScenarioProblem {
  /** From 1; 0 when it has no place. */
  readonly line: number;
  readonly path: string;
  readonly message: string;
}

export interface ParsedScenario {
  readonly scenario: Scenario | null;
  /** All that is wrong, not just the first. */
  readonly problems: readonly ScenarioProblem[];
}

export function parseScenario(text: string): ParsedScenario {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: true });
  if (document.errors.length > 0) {
    const problems = document.errors.map((e) => ({
      line: e.linePos?.[0].line ?? 0,
      path: '',
      message: e.message.split('\n')[0] ?? e.message,
    }));
    return { scenario: null, problems };
  }
  const result = scenarioSchema.safeParse(document.toJS());
  if (result.success) return { scenario: result.data, problems: [] };
  const lineOf = (path: readonly PropertyKey[]): number => {
    // The place itself, or of a missing key the nearest thing around it.
    for (let length = path.length; length >= 0; length--) {
      const node = document.getIn(path.slice(0, length), true) as
        | { range?: readonly number[] | null }
        | null
        | undefined;
      const offset = node !== null && typeof node === 'object' ? node.range?.[0] : undefined;
      if (offset !== undefined) return lines.linePos(offset).line;
    }
    return 0;
  };
  const problems = result.error.issues.map((issue) => ({
    line: lineOf(issue.path),
    path: issue.path.map(String).join('.'),
    message: issue.message,
  }));
  return { scenario: null, problems };
}

/** Corners come first: early and weak, early and strong, late and weak, late and strong. */
const CORNERS: readonly (readonly [number, number])[] = [
  [-1, -1],
  [-1, 1],
  [1, -1],
  [1, 1],
];
const VARIATION_SHARE = 0.2;

/**
 * The k-th variation of a scenario: instants and magnitudes of its faults moved by up to ±20 %. 0 is the
 * scenario itself, 1 to 4 are the corners, and all further ones are drawn at random.
 */
export function vary(scenario: Scenario, k: number, random: RandomSource): Scenario {
  if (k <= 0) return scenario;
  const draw = () => (random.uint32() / 2 ** 31 - 1) * VARIATION_SHARE;
  const corner = CORNERS[k - 1];
  const inject = scenario.inject.map((injection) => {
    const time = 1 + (corner === undefined ? draw() : corner[0] * VARIATION_SHARE);
    const size = 1 + (corner === undefined ? draw() : corner[1] * VARIATION_SHARE);
    const definition: FaultDefinition = FAULTS[injection.fault];
    // A fault without a unit is there or not; it has no size to vary.
    const magnitude = (injection.magnitude ?? definition.magnitude) * (definition.unit === '' ? 1 : size);
    return { ...injection, afterS: (injection.afterS ?? 0) * time, magnitude };
  });
  return { ...scenario, seed: (scenario.seed + k) >>> 0, inject };
}
