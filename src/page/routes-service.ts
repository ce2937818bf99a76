/** For machines: is it alive, what does it measure, what can be asked of it. */
import { z } from 'zod';
import { problem } from './api.js';
import type { Routes } from './routes.js';

export function serviceRoutes(
  app: Routes,
  document: () => object,
  metrics: { readonly type: string; text(): Promise<string> },
): void {
  app.get(
    '/healthz',
    {
      schema: {
        summary: 'the server answers; says nothing of the session',
        response: { 200: z.object({ ok: z.boolean() }) },
      },
    },
    async () => ({ ok: true }),
  );
  app.get(
    '/metrics',
    {
      schema: {
        summary: 'figures in the Prometheus text format',
        response: { 200: z.string(), 401: problem },
      },
    },
    async (_, reply) =>
      reply
        .type(metrics.type)
        .serializer(String)
        .send(await metrics.text()),
  );
  app.get(
    '/openapi.json',
    { schema: { summary: 'this document', response: { 200: z.looseObject({}), 401: problem } } },
    async () => document() as Record<string, unknown>,
  );
}
