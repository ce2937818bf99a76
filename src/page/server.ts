/**
 * The server of the live page: guards before everything, then the routes of the documented interface, then the page
 * itself, which uses nothing else. Losing it, or the network, changes nothing in a session.
 */
import cookie from '@fastify/cookie';
import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import sse from '@fastify/sse';
import swagger from '@fastify/swagger';
import fastify, { type FastifyError, type FastifyInstance, type FastifyReply } from 'fastify';
import {
  jsonSchemaTransform,
  serializerCompiler,
  validatorCompiler,
  type ZodTypeProvider,
} from 'fastify-type-provider-zod';
import type { FaultsKnown } from './about.js';
import { problem, type Snapshot } from './api.js';
import { type Asset, assetRoutes } from './assets.js';
import { type Context, fromOf, tokenOf, told } from './context.js';
import { hostsOf, isRemote, OURS, OURS_HEADER, strange } from './guards.js';
import { metricsOf } from './metrics.js';
import { letIn } from './routes.js';
import { benchRoutes, orderRoutes } from './routes-act.js';
import { lookRoutes } from './routes-look.js';
import { peopleRoutes } from './routes-people.js';
import { serviceRoutes } from './routes-service.js';
import { streamText } from './stream-text.js';

const BODY_BYTES = 16 * 1024;
const CONNECTIONS = 256;
/** Some messages repeat what was asked for, however long it was. */
const LONGEST_PROBLEM = 500;
const SECONDS = 1000;
/** Open to everybody who may reach this address: nothing is seen or done there. */
const OPEN = new Set(['/', '/healthz', '/api/sign-in', '/page/:file']);
/** Open on the charger's own machine, where a monitoring system has no name to sign in with. */
const OPEN_AT_HOME = new Set(['/metrics', '/openapi.json']);

export interface ServerOptions {
  readonly context: Context;
  readonly look: (n: number) => Snapshot;
  readonly faults?: FaultsKnown;
  readonly assets: readonly Asset[];
  /** SHA-256 of inline scripts, as a policy names them. */
  readonly scriptHashes: readonly string[];
  /** Requests a minute of one person, or of one address before signing in. */
  readonly requestsAMinute?: number;
  readonly tls?: { readonly cert: string; readonly key: string } | undefined;
}

const REQUESTS_A_MINUTE = 1200;

export async function pageServer(options: ServerOptions): Promise<FastifyInstance> {
  const { context, look, tls } = options;
  const app = fastify({
    bodyLimit: BODY_BYTES,
    requestTimeout: 10 * SECONDS,
    keepAliveTimeout: 10 * SECONDS,
    exposeHeadRoutes: false,
    forceCloseConnections: true,
    // What cannot be a path comes before every guard, and would be answered with all that was asked.
    frameworkErrors: (error: FastifyError, _: unknown, reply: FastifyReply) =>
      told(reply, error.statusCode ?? 400, 'this is no path of this server'),
    ...(tls === undefined ? {} : { https: { ...tls } }),
  } as object) as unknown as FastifyInstance;
  app.server.maxConnections = CONNECTIONS;
  app.setValidatorCompiler(validatorCompiler);
  app.setSerializerCompiler(serializerCompiler);
  app.removeContentTypeParser('text/plain');
  app.setErrorHandler<FastifyError>((error, request, reply) => {
    const status = error.statusCode ?? 500;
    if (status < 500) return told(reply, status, error.message.slice(0, LONGEST_PROBLEM));
    context.diagnostics.error({ why: error.stack, url: request.url }, 'a request failed');
    return told(reply, 500, 'the page has failed; the session goes on without it');
  });
  guard(app, context);
  // Whatever a guard, a limit or a failure answers is a problem too: the document says so of every route.
  app.addHook('onRoute', (route) => {
    const { schema } = route;
    const response = schema?.response as Record<string, unknown> | undefined;
    if (response !== undefined) route.schema = { ...schema, response: { ...response, default: problem } };
  });
  await app.register(cookie);
  await app.register(helmet, policy(options));
  await app.register(rateLimit, {
    max: options.requestsAMinute ?? REQUESTS_A_MINUTE,
    timeWindow: '1 minute',
    // A cookie that nobody was given is no name: the address counts then.
    keyGenerator: (request) =>
      context.people.who(tokenOf(request)) === null ? request.ip : tokenOf(request),
    errorResponseBuilder: (_, { after }) =>
      Object.assign(new Error(`too many requests; try again in ${after}`), { statusCode: 429 }),
  });
  await app.register(sse.default ?? sse, { heartbeatInterval: 15 * SECONDS, serializer: streamText });
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'loopwarden: the live page',
        description: `${context.caution.join(' ')} Whoever is signed in is known by a cookie; every POST carries the header ${OURS_HEADER}: ${OURS}.`,
        version: context.software.split(' ').at(-1) ?? '',
      },
      servers: [],
    },
    transform: jsonSchemaTransform,
  });
  app.setNotFoundHandler((_, reply) =>
    told(reply, 404, 'there is nothing here; the interface is in /openapi.json'),
  );
  await app.register(async (inner) => {
    const routes = inner.withTypeProvider<ZodTypeProvider>();
    lookRoutes(routes, context, look, options.faults);
    peopleRoutes(routes, context);
    orderRoutes(routes, context);
    benchRoutes(routes, context);
    serviceRoutes(routes, () => app.swagger(), metricsOf(context));
    assetRoutes(routes, options.assets);
  });
  return app;
}

/** In this order: who is asked, from where, and only then by whom. */
function guard(app: FastifyInstance, context: Context): void {
  const { place } = context;
  app.addHook('onRequest', async (request, reply) => {
    const port = request.socket.localPort ?? 0;
    const why = strange(request, hostsOf(place, port), place.tls);
    if (why !== null) return told(reply, 403, why);
  });
  app.addHook('preValidation', async (request, reply) => {
    const { url } = request.routeOptions;
    if (url === undefined || OPEN.has(url)) return;
    const from = fromOf(context, request);
    if (from !== null) letIn(request, from.person);
    else if (!(OPEN_AT_HOME.has(url) && !isRemote(request)))
      return told(reply, 401, 'sign in first, with the link the command printed or an invitation');
  });
}

function policy({ scriptHashes, tls }: ServerOptions) {
  const self = ["'self'"];
  return {
    contentSecurityPolicy: {
      useDefaults: false,
      directives: {
        defaultSrc: ["'none'"],
        scriptSrc: [...self, ...scriptHashes.map((hash) => `'sha256-${hash}'`)],
        styleSrc: self,
        connectSrc: self,
        imgSrc: self,
        frameAncestors: ["'none'"],
        baseUri: ["'none'"],
        formAction: self,
      },
    },
    strictTransportSecurity: tls !== undefined,
  } as const;
}
