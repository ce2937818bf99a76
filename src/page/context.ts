/** What the routes share. */
import type { FastifyReply, FastifyRequest } from 'fastify';
import type { Clock } from '../host/clock.js';
import type { Diagnostics } from '../host/diagnostics.js';
import type { Exercises, Stand } from '../supervisor/stand.js';
import type { Control } from './control.js';
import { isRemote, type Place } from './guards.js';
import type { Hub } from './hub.js';
import type { From, Orders } from './orders.js';
import type { People, Person } from './people.js';
import type { Watch } from './watch.js';

export interface Context {
  readonly stand: Stand;
  readonly clock: Clock;
  readonly diagnostics: Diagnostics;
  readonly software: string;
  readonly caution: readonly string[];
  readonly place: Place;
  readonly people: People;
  readonly control: Control;
  readonly watch: Watch;
  readonly hub: Hub;
  readonly orders: Orders;
  /** On a simulated stand. */
  readonly exercises: Exercises | null;
}

/** Cookies know no port: two servers of one machine would overwrite each other's. */
export const cookieName = (request: FastifyRequest): string => `loopwarden-${request.socket.localPort}`;
export const tokenOf = (request: FastifyRequest): string => request.cookies[cookieName(request)] ?? '';

/** A problem as every route tells it. */
export const told = (reply: FastifyReply, status: number, problem: string) =>
  reply.code(status).send({ problem });

export function fromOf(context: Context, request: FastifyRequest): From | null {
  const person: Person | null = context.people.who(tokenOf(request));
  return person === null ? null : { person, remote: isRemote(request) };
}
