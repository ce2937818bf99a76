/**
 * The rig's schema for editors, derived from the one in schema.ts. A file is either a whole rig, or a variant
 * that `extends` another file and states only what differs. So the properties require nothing by themselves,
 * except inside lists (they are replaced whole) and limits (a new value brings its own source), and what a
 * whole rig requires stands once more beside them.
 */
import { z } from 'zod';
import { rigSchema } from './schema.js';

type Json = { [key: string]: unknown };

export function rigJsonSchema(): Json {
  const { $schema, ...whole } = z.toJSONSchema(rigSchema, { io: 'input' }) as Json;
  const limits = new Map<string, Json>();
  const loose = loosened(whole, limits) as Json;
  const link = {
    type: 'string',
    minLength: 1,
    description: 'the file this one differs from, relative to it',
  };
  return {
    $schema,
    title: 'loopwarden rig',
    description:
      'Live DC kills. A rig is no safety function; a competent person must confirm every limit. Units end the keys.',
    ...loose,
    properties: { extends: link, ...(loose.properties as Json) },
    anyOf: [{ required: ['extends', 'name', 'title'] }, required(whole)],
    $defs: Object.fromEntries([...limits.values()].map((limit, i) => [limitName(i), limit])),
  };
}

const limitName = (index: number): string => `limit${index + 1}`;
const isLimit = (properties: Json): boolean => 'value' in properties && 'source' in properties;

/** Nothing required of maps; an empty value takes an optional key away; equal limits stated once. */
function loosened(schema: unknown, limits: Map<string, Json>): unknown {
  const { required: needs, properties, description, ...rest } = schema as Json;
  if (!properties) return schema;
  const own = properties as Json;
  if (isLimit(own)) {
    const limit = { ...rest, properties: own, required: needs };
    const text = JSON.stringify(limit);
    if (!limits.has(text)) limits.set(text, limit);
    return { $ref: `#/$defs/${limitName([...limits.keys()].indexOf(text))}`, description };
  }
  const needed = new Set(needs as string[] | undefined);
  const entries = Object.entries(own).map(([key, child]) => {
    const loose = loosened(child, limits);
    return [key, needed.has(key) ? loose : { anyOf: [loose, { type: 'null' }] }];
  });
  return { ...rest, ...(description ? { description } : {}), properties: Object.fromEntries(entries) };
}

/** Only what is required of maps, all the way down. */
function required(schema: unknown): Json {
  const { required: needs, properties } = schema as Json;
  const below = Object.entries((properties ?? {}) as Json)
    .filter(([, child]) => 'properties' in (child as Json) && !isLimit((child as Json).properties as Json))
    .map(([key, child]) => [key, required(child)]);
  return { required: needs, ...(below.length > 0 ? { properties: Object.fromEntries(below) } : {}) };
}
