/** The page itself: a handful of texts, kept in memory, told apart by their hash. */
import { z } from 'zod';
import { problem } from './api.js';
import { told } from './context.js';
import type { Routes } from './routes.js';
import { sha256 } from './sha256.js';

export interface Asset {
  /** `/` or `/page/NAME`. */
  readonly path: string;
  readonly type: string;
  readonly text: string;
}

export function assetRoutes(app: Routes, assets: readonly Asset[]): void {
  const byPath = new Map(assets.map((a) => [a.path, { ...a, tag: `"${sha256(a.text).slice(0, 24)}"` }]));
  const text = z.string();
  const send = (path: string, known: string | undefined) => {
    const found = byPath.get(path);
    if (found === undefined) return null;
    return { ...found, isKnown: known === found.tag };
  };
  for (const url of ['/', '/page/:file'])
    app.get(
      url,
      {
        schema: {
          summary: url === '/' ? 'the page' : 'its scripts and style',
          ...(url === '/' ? {} : { params: z.object({ file: z.string().max(60) }) }),
          response: { 200: text, 304: z.null(), 404: problem },
        },
      },
      async (request, reply) => {
        const { file } = request.params as { file?: string };
        const found = send(file === undefined ? '/' : `/page/${file}`, request.headers['if-none-match']);
        if (found === null) return told(reply, 404, 'there is no such file');
        reply.header('cache-control', 'no-cache').header('etag', found.tag);
        if (found.isKnown) return reply.code(304).send(null);
        return reply.type(found.type).serializer(String).send(found.text);
      },
    );
}
