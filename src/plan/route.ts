/** A route as its file gives it: the train as it runs, and the line in sections from stop to stop. */
import { z } from 'zod';
import { name, nonNegative, positive, share, source } from '../rig/schema-parts.js';
import type { FileKind } from './planning-file.js';

/** Steeper is no railway without a rack, and most likely a figure in another unit. */
const STEEPEST_SHARE = 0.1;

const sectionSchema = z.strictObject({
  to: name.describe('where it ends'),
  lengthKm: positive().max(500),
  climbM: z.number().min(-5000).max(5000).default(0).describe('below 0 where it goes down'),
  topSpeedKmh: positive().max(400),
  energyKwhPerKm: z
    .number()
    .min(-100)
    .max(200)
    .optional()
    .describe(
      'measured at the train bus, auxiliaries included: in place of reckoning, at topSpeedKmh throughout',
    ),
  stopS: nonNegative().max(86_400).default(0).describe('stands here before going on; 0 passes through'),
});

export const routeSchema = z.strictObject({
  name,
  title: z.string().min(3),
  note: z.string().optional(),
  from: name.describe('where it begins'),
  train: z.strictObject({
    massKg: positive().max(5e6),
    rotatingShare: share().describe('of the mass, that wheels and motors add when speed changes'),
    auxiliariesKw: nonNegative().max(2000),
    resistance: z
      .strictObject({
        constantN: nonNegative(),
        linearNPerMps: nonNegative(),
        squareNPerMps2: nonNegative(),
        source,
      })
      .describe('A + B·v + C·v² (Davis), v in m/s'),
    tractionEfficiencyShare: share().min(0.1).describe('from the train bus to the wheels'),
    maxTractionKw: positive().describe(
      'at the wheels, driving; the most that comes back to the bus, braking',
    ),
    accelerationMPerS2: positive().max(3),
    brakingMPerS2: positive().max(3),
    regeneration: z.strictObject({
      share: share().describe('of the work of braking at the wheels, that comes back to the train bus'),
      cutOffKmh: nonNegative().max(100).describe('slower than this nothing comes back'),
      source,
    }),
  }),
  sections: z.array(sectionSchema).min(1).max(200),
});
export type Route = z.output<typeof routeSchema>;

export const ROUTE: FileKind<typeof routeSchema> = {
  name: 'route',
  folder: 'routes',
  schema: routeSchema,
  rules({ sections }, say) {
    sections.forEach(({ climbM, lengthKm }, i) => {
      if (Math.abs(climbM) > 1000 * lengthKm * STEEPEST_SHARE)
        say(
          ['sections', i, 'climbM'],
          `found ${climbM} m over ${lengthKm} km, steeper than ${100 * STEEPEST_SHARE} %; expected metres of height between the ends of the section`,
        );
    });
  },
};

/** The same line the other way. A stop in between is where it was; the last one is the end, and needs no time. */
export function reversed(route: Route): Route {
  const ends = [route.from, ...route.sections.map((s) => s.to)];
  const sections = route.sections.map((_, i) => {
    const k = route.sections.length - 1 - i;
    const section = route.sections[k]!;
    return {
      ...section,
      to: ends[k]!,
      climbM: section.climbM === 0 ? 0 : -section.climbM,
      stopS: k === 0 ? 0 : route.sections[k - 1]!.stopS,
    };
  });
  return { ...route, from: ends.at(-1)!, sections };
}
