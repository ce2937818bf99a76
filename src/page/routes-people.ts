/** Signing in and out, inviting, and who holds control. */
import { z } from 'zod';
import { control, controlAsk, invitation, invitationAsk, me, problem, signInAsk, taken } from './api.js';
import { type Context, cookieName, tokenOf, told } from './context.js';
import { AWAY_MS } from './control.js';
import { isRemote } from './guards.js';
import { personOf, type Routes } from './routes.js';

/** Guessing is hopeless anyway; this keeps it from being loud. */
const SIGN_INS_A_MINUTE = 30;

export const controlOf = ({ people, control: held, hub }: Context) => ({
  holder: held.holder,
  offeredTo: held.offeredTo,
  people: people.list.map(({ name, role }) => ({ name, role, watching: hub.isWatching(name) })),
});

export function peopleRoutes(app: Routes, context: Context): void {
  const { people, hub, watch } = context;
  const held = context.control;
  const leave = (name: string, token: string): void => {
    people.signOut(token);
    held.left(name);
    hub.drop(name);
    watch.tell('control', `${name} signed out`);
  };

  app.post(
    '/api/sign-in',
    {
      config: { rateLimit: { max: SIGN_INS_A_MINUTE, timeWindow: '1 minute' } },
      schema: {
        summary: 'exchange an invitation for a cookie; an invitation is good once',
        body: signInAsk,
        response: { 200: me, 403: problem, 409: problem },
      },
    },
    async (request, reply) => {
      const { invitation: secret, name } = request.body;
      const before = people.who(tokenOf(request));
      // Gone, not between two connections: a page that reloads must find its person still there.
      const done = people.signIn(secret, name, (other) => hub.awayMs(other) >= AWAY_MS);
      if (done === 'name-taken')
        return told(
          reply,
          409,
          `somebody by the name ${name} is signed in and was here less than ${AWAY_MS / 1000} s ago; give another name, or wait`,
        );
      if (done === 'too-many') return told(reply, 409, 'too many people are signed in');
      if (done === 'not-invited')
        return told(
          reply,
          403,
          'this invitation is not known, was used, or has run out; ask for another, or take the link the command printed',
        );
      // The cookie of whoever used this browser before is written over: that person is gone.
      if (before !== null) leave(before.name, tokenOf(request));
      // Somebody else by that name: what was held goes back to everybody.
      held.left(name);
      hub.greet(name);
      watch.tell('control', `${name} signed in as ${done.person.role}`);
      const { untilMs } = done.person;
      reply.setCookie(cookieName(request), done.token, {
        ...{ path: '/', httpOnly: true, sameSite: 'strict', secure: context.place.tls },
        maxAge: Math.round((untilMs - context.clock.wallMs()) / 1000),
      });
      return { name, role: done.person.role, inControl: false, remote: isRemote(request), untilMs };
    },
  );

  app.post(
    '/api/sign-out',
    { schema: { summary: 'the cookie is worth nothing any more', response: { 200: taken, 401: problem } } },
    async (request, reply) => {
      leave(personOf(request).name, tokenOf(request));
      reply.clearCookie(cookieName(request), { path: '/' });
      return { taken: true as const };
    },
  );

  app.get(
    '/api/me',
    { schema: { summary: 'who am I, and may I order', response: { 200: me, 401: problem } } },
    async (request) => {
      const { name, role, untilMs } = personOf(request);
      return { name, role, untilMs, inControl: held.isHeldBy(name), remote: isRemote(request) };
    },
  );

  app.post(
    '/api/invitations',
    {
      schema: {
        summary: 'an invitation for another person, good once; by an engineer',
        body: invitationAsk,
        response: { 200: invitation, 401: problem, 403: problem, 409: problem },
      },
    },
    async (request, reply) => {
      const { name, role: own } = personOf(request);
      const { role } = request.body;
      if (own !== 'engineer') return told(reply, 403, 'an engineer invites');
      const made = people.invite(role);
      if (made === null) return told(reply, 409, 'too many invitations are open; wait until they run out');
      watch.tell('control', `${name} invited somebody as ${role}`);
      return { ...made, role };
    },
  );

  app.post(
    '/api/control',
    {
      schema: {
        summary: 'take, release, offer or accept control; one person holds it',
        body: controlAsk,
        response: { 200: control, 401: problem, 403: problem, 409: problem },
      },
    },
    async (request, reply) => {
      const { name, role } = personOf(request);
      const ask = request.body;
      if (role === 'watcher') return told(reply, 403, 'a watcher holds no control');
      const before = held.holder;
      const why =
        ask.do === 'take'
          ? held.take(name)
          : ask.do === 'release'
            ? held.release(name)
            : ask.do === 'offer'
              ? held.offer(name, ask.to)
              : held.accept(name);
      if (why !== null) return told(reply, 409, why);
      if (ask.do === 'offer') watch.tell('control', `${name} offers control to ${ask.to}`);
      else if (held.holder !== before)
        watch.tell('control', held.holder === null ? `${name} gave control back` : `${name} holds control`);
      return controlOf(context);
    },
  );
}

export const nothing = z.strictObject({});
