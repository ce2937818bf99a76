/**
 * A read-only look at a running session on the loopback address: nothing can be ordered here, and losing it
 * changes nothing. Requests under another host name are turned away, so that no web page can read it by
 * rebinding a name.
 */
import fastify, { type FastifyInstance } from 'fastify';
import type { Session } from '../supervisor/session.js';

/** What is served is what a watcher needs, not the inner state. */
export function stateOf(session: Session): object {
  const { seen, setpointA, leastA, binding, energyKwh } = session.display;
  const m = seen?.meter?.value;
  const figure = (x: number | undefined): number | null => (x !== undefined && Number.isFinite(x) ? x : null);
  return {
    caution: 'Live DC kills. This is not a safety function; nothing can be ordered here.',
    phase: session.phase,
    tripped: session.tripped,
    ended: session.ended,
    outputV: figure(m?.outputV),
    plugV: figure(m?.plugV),
    trainV: figure(seen?.train?.value.trainV),
    currentA: figure(m?.currentA),
    setpointA: figure(setpointA),
    leastLimitA: figure(leastA),
    bindingLimit: binding,
    energyToBatteryKwh: figure(energyKwh),
    cableC: figure(m?.cableC),
    contactC: figure(m?.contactC),
    rafts: (seen?.rafts ?? []).map((r) => ({
      soc: figure(r?.value.soc),
      packV: figure(r?.value.packV),
      packA: figure(r?.value.packA),
      joined: r?.value.joined === 1,
      cellMaxC: figure(r?.value.cellMaxC),
    })),
  };
}

const LOOPBACK = /^(127\.0\.0\.1|localhost|\[::1\])(:\d+)?$/;

export function statusServer(session: () => Session | null): FastifyInstance {
  const app = fastify({ bodyLimit: 1024 });
  app.addHook('onRequest', async (request, reply) => {
    if (!LOOPBACK.test(request.headers.host ?? '')) await reply.code(403).send({ error: 'loopback only' });
  });
  app.get('/healthz', async () => ({ ok: true }));
  app.get('/state', async (_, reply) => {
    const running = session();
    if (running === null) return reply.code(503).send({ error: 'no session yet' });
    return stateOf(running);
  });
  return app;
}
