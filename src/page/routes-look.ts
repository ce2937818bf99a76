/** What is to be seen, and the stream of it. */
import { z } from 'zod';
import { aboutOf, FAULTS_NONE, type FaultsKnown } from './about.js';
import type { Snapshot } from './api.js';
import {
  about,
  eventList,
  pageEvent,
  pilot,
  problem,
  snapshot,
  stateMessage,
  TRACE_COLUMNS,
  traces,
} from './api.js';
import type { Context } from './context.js';
import { told } from './context.js';
import type { Message } from './hub.js';
import { personOf, type Routes } from './routes.js';

const MOST_EVENTS = 5000;
const RECONNECT_MS = 500;
const number = z.coerce.number().int().min(0).max(Number.MAX_SAFE_INTEGER);

export function lookRoutes(
  app: Routes,
  context: Context,
  look: (n: number) => Snapshot,
  faults: FaultsKnown = FAULTS_NONE,
): void {
  const { watch, hub } = context;
  const said = aboutOf(context, faults);

  app.get(
    '/api/about',
    {
      schema: {
        summary: 'what does not change: rig, codes, phases, proofs',
        response: { 200: about, 401: problem },
      },
    },
    async () => said,
  );
  app.get(
    '/api/state',
    { schema: { summary: 'the state of the moment', response: { 200: snapshot, 401: problem } } },
    async () => look(0),
  );
  app.get(
    '/api/events',
    {
      schema: {
        summary: 'events after a number, oldest first; the newest five thousand are kept',
        querystring: z.strictObject({ after: number.optional() }),
        response: { 200: eventList, 400: problem, 401: problem },
      },
    },
    async ({ query }) => ({
      events: watch.events.after(query.after ?? 0, MOST_EVENTS),
      last: watch.events.last,
    }),
  );
  app.get(
    '/api/traces',
    {
      schema: {
        summary: 'points from a number on; the last hour of session time is kept',
        querystring: z.strictObject({ from: number.optional() }),
        response: { 200: traces, 400: problem, 401: problem },
      },
    },
    async ({ query }) => ({
      columns: [...TRACE_COLUMNS],
      bindings: [...watch.traces.bindings],
      ...watch.traces.from(query.from ?? 0),
    }),
  );
  app.get(
    '/api/pilot',
    { schema: { summary: 'the newest burst of pilot samples', response: { 200: pilot, 401: problem } } },
    async () => watch.pilot.newest,
  );
  app.get(
    '/api/stream',
    {
      // The handler looks at `accept` itself, so that whoever refuses streams is told as by every other route.
      sse: 'manual',
      schema: {
        summary:
          'server-sent events: `state` (newest state, points since the last), `event` (with its number as id), `pilot`',
        description: 'Comes back by Last-Event-ID, or by `after` on the first connection.',
        querystring: z.strictObject({ after: number.optional() }),
        response: {
          200: z.union([stateMessage, pageEvent, pilot]),
          400: problem,
          401: problem,
          406: problem,
          503: problem,
        },
      },
    },
    async (request, reply) => {
      if (!/text\/event-stream|text\/\*|\*\/\*/i.test(request.headers.accept ?? '*/*'))
        return told(reply, 406, 'this is a stream of server-sent events: accept text/event-stream');
      const header = Number(reply.sse.lastEventId ?? request.query.after ?? watch.events.last);
      const last = Number.isInteger(header) && header >= 0 && header <= watch.events.last ? header : 0;
      const { sse } = reply;
      const taker = {
        send: (message: Message) => sse.send({ ...message, retry: RECONNECT_MS }),
        end: () => {
          sse.close();
          // Whoever takes nothing does not take the end either.
          request.raw.destroy();
        },
      };
      const { name, untilMs } = personOf(request);
      const leave = hub.join(name, taker, last, untilMs);
      if (leave === null) return told(reply, 503, 'too many pages watch already');
      sse.onClose(leave);
      sse.keepAlive();
    },
  );
}
