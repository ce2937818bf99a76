/** The type routes are added to, and the person behind a request that was let in. */
import type {
  FastifyBaseLogger,
  FastifyInstance,
  FastifyRequest,
  RawReplyDefaultExpression,
  RawRequestDefaultExpression,
  RawServerDefault,
} from 'fastify';
import type { ZodTypeProvider } from 'fastify-type-provider-zod';
import type { Person } from './people.js';

export type Routes = FastifyInstance<
  RawServerDefault,
  RawRequestDefaultExpression,
  RawReplyDefaultExpression,
  FastifyBaseLogger,
  ZodTypeProvider
>;

const PEOPLE = new WeakMap<object, Person>();

export const letIn = (request: Pick<FastifyRequest, 'raw'>, person: Person): void =>
  void PEOPLE.set(request.raw, person);

/** Whoever is asked for was let in before any handler: see server.ts. */
export function personOf(request: Pick<FastifyRequest, 'raw'>): Person {
  const person = PEOPLE.get(request.raw);
  if (person === undefined) throw new Error('a route that needs a person was reached without one');
  return person;
}
