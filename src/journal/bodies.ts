/**
 * Bodies of the records people are told from, held field by field against what the program writes: `refusal`, `trip`
 * and `end`. What is spelt otherwise was not written by it, and whoever tells it might fail on it.
 */

type Shape = (value: unknown) => string | null;

const text: Shape = (value) => (typeof value === 'string' ? null : 'a text');
const number: Shape = (value) => (typeof value === 'number' ? null : 'a number');
const flag: Shape = (value) => (typeof value === 'boolean' ? null : 'true or false');
const orNull =
  (shape: Shape): Shape =>
  (value) => {
    const expected = value === null ? null : shape(value);
    return expected === null ? null : `${expected} or null`;
  };
/** A figure that could not be read is null. */
const figure = orNull(number);
const oneOf =
  (...words: readonly string[]): Shape =>
  (value) =>
    words.some((word) => word === value) ? null : `one of ${words.join(', ')}`;
/** Fields beyond these are a newer program's. */
const record =
  (fields: Readonly<Record<string, Shape>>): Shape =>
  (value) => {
    if (typeof value !== 'object' || value === null || Array.isArray(value)) return 'an object';
    for (const [name, shape] of Object.entries(fields)) {
      const expected = shape((value as Record<string, unknown>)[name]);
      if (expected !== null) return `an object with ${name}: ${expected}`;
    }
    return null;
  };
const list =
  (shape: Shape): Shape =>
  (value) => {
    if (!Array.isArray(value)) return 'a list';
    for (const each of value) {
      const expected = shape(each);
      if (expected !== null) return `a list of what is ${expected}`;
    }
    return null;
  };

const limit = { reading: figure, limit: figure, unit: text, setting: text };
const TRIP = record({
  ...{ code: text, part: orNull(text), effect: text, phase: text, atS: number, ...limit },
  ...{ detectedAfterMs: figure, fromInjectionMs: figure },
});
const REFUSAL = record({
  ...{ code: text, part: orNull(text), asked: text, by: text, atS: number, ...limit },
  ...{ text, remedy: text },
});
const END = record({
  outcome: oneOf('released', 'tripped', 'refused'),
  endReason: text,
  endState: record({
    ...{ provenDead: flag, polesProvenOpen: flag, outputDead: flag, plugDead: flag, plugLocked: flag },
  }),
  trip: orNull(TRIP),
  refusals: list(REFUSAL),
  ...{ durationS: figure, energyToBatteryKwh: figure, energyFromSupplyKwh: figure },
  lossesKwh: record({ converter: figure, cableAndContacts: figure, train: figure }),
  ...{ peakCurrentA: figure, peakRampAPerS: figure, socStart: figure, socEnd: figure },
  residualVoltageAtReleaseV: figure,
  bindingLimits: list(record({ limit: text, fromS: figure, toS: figure })),
  phases: list(record({ name: text, atS: number })),
  findings: list(record({ code: text, part: orNull(text), atS: number })),
  rejectedFrames: number,
});

const SHAPES = new Map<string, Shape>([
  ['trip', TRIP],
  ['refusal', REFUSAL],
  ['end', END],
]);

/** What of the body of a record is not as it is written, in words; null when all is, or no shape is known of its kind. */
export function oddBody(kind: string, body: unknown): string | null {
  const expected = SHAPES.get(kind)?.(body) ?? null;
  return expected === null ? null : `its body, of kind ${kind}, is expected to be ${expected}`;
}
