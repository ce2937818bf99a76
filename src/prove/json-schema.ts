/** The schema of procedures for editors, derived from the one in procedure.ts. */
import { z } from 'zod';
import { procedureSchema } from './procedure.js';

export function procedureJsonSchema(): Record<string, unknown> {
  const { $schema, ...whole } = z.toJSONSchema(procedureSchema, { io: 'input' });
  return {
    $schema,
    title: 'loopwarden procedure',
    description:
      'Live DC kills. A procedure makes faults on a charger that may be live; a competent person runs it and confirms every limit.',
    ...whole,
  };
}
