/** Orders to the charger, and to the bench where there is one. */
import { InputError } from '../host/input-error.js';
import type { ExerciseState } from '../supervisor/stand.js';
import { bench, exerciseAsk, faultAsk, orderAsk, problem, type Snapshot, speedAsk, taken } from './api.js';
import type { Context } from './context.js';
import { told } from './context.js';
import { isRemote } from './guards.js';
import { personOf, type Routes } from './routes.js';
import { nothing } from './routes-people.js';

/** Far more than a hand can press; a program that orders in a loop is stopped. */
const ORDERS_A_MINUTE = 240;

type Shown = NonNullable<Snapshot['bench']>['exercise'];
const shown = (state: ExerciseState | null): Shown =>
  state === null
    ? null
    : {
        ...state,
        debrief: state.debrief === null ? null : { ...state.debrief, lines: [...state.debrief.lines] },
      };

export function benchOf({ stand, exercises }: Context): Snapshot['bench'] {
  const { bench: made } = stand;
  if (made === null) return null;
  return { speed: made.speed, faults: [...made.faults], exercise: shown(exercises?.state ?? null) };
}

export function orderRoutes(app: Routes, context: Context): void {
  app.post(
    '/api/orders',
    {
      config: {
        rateLimit: {
          max: ORDERS_A_MINUTE,
          timeWindow: '1 minute',
          hook: 'preHandler',
          // Whoever has pressed a hundred wrong buttons may still trip what is under way.
          allowList: (request) =>
            (request.body as { order?: string } | null)?.order === 'trip-now' &&
            context.stand.running !== null &&
            context.stand.session?.tripped !== true,
        },
      },
      schema: {
        summary: 'an order by a person; what the session makes of it comes as events',
        description: '`trip-now` is open to everybody signed in. It is not the emergency stop.',
        body: orderAsk,
        response: { 202: taken, 400: problem, 401: problem, 403: problem, 409: problem },
      },
    },
    async (request, reply) => {
      const from = { person: personOf(request), remote: isRemote(request) };
      const down = await context.orders.give(request.body, from);
      if (down === null) return reply.code(202).send({ taken: true as const });
      return reply.code(down.status).send({ problem: down.refusal.text, refusal: down.refusal });
    },
  );
}

/** @param app without a bench nothing is added: a real charger has no such routes at all */
export function benchRoutes(app: Routes, context: Context): void {
  const { stand, watch, exercises } = context;
  const made = stand.bench;
  if (made === null) return;
  const answers = { 200: bench, 400: problem, 401: problem, 403: problem, 409: problem };

  /** @returns the bench as it then is, or null when it was answered already */
  const route = <B>(
    path: string,
    summary: string,
    body: { parse(given: unknown): B } & object,
    what: (asked: B, by: string) => string,
  ): void => {
    app.post(
      path,
      { schema: { summary, body: body as never, response: answers } },
      async (request, reply) => {
        const { name, role } = personOf(request);
        if (role !== 'engineer')
          return told(reply, 403, 'the bench is for an engineer; sign in with an invitation as one');
        try {
          watch.tell('bench', what(request.body as B, name));
        } catch (error) {
          if (error instanceof InputError) return told(reply, 409, error.message);
          throw error;
        }
        return reply.code(200).send(benchOf(context) as NonNullable<Snapshot['bench']>);
      },
    );
  };

  route('/api/bench/faults', 'make a fault, now or when a phase begins', faultAsk, (asked, by) => {
    made.inject(asked);
    const when = asked.phase === undefined ? 'now' : `as ${asked.phase} begins`;
    return `${by} makes ${asked.fault}, ${when}`;
  });
  route('/api/bench/clear', 'take every fault back', nothing, (_, by) => {
    made.clear();
    return `${by} takes every fault back`;
  });
  route('/api/bench/renew', 'another train at the stand', nothing, (_, by) => {
    const { state } = exercises ?? { state: null };
    if (state !== null && state.debrief === null)
      throw new InputError(`the exercise ${state.name} is under way; end it first`);
    made.renew();
    return `${by} brings another train`;
  });
  route('/api/bench/speed', 'how much faster than real time', speedAsk, ({ speed }, by) => {
    made.speed = speed;
    return `${by} sets the speed to ${speed} times`;
  });
  if (exercises === null) return;
  route('/api/bench/exercise', 'begin an exercise', exerciseAsk, ({ exercise }, by) => {
    exercises.begin(exercise);
    return `${by} begins the exercise ${exercise}`;
  });
  route('/api/bench/debrief', 'end the exercise now, with its debrief', nothing, (_, by) => {
    exercises.end();
    return `${by} ends the exercise`;
  });
}
