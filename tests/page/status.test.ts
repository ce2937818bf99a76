/** The read-only look at a session. */
import { describe, expect, it } from 'vitest';
import { statusServer } from '../../src/page/status.js';

describe('the status server', () => {
  it('answers health, and says so while there is no session', async () => {
    const app = statusServer(() => null);
    expect((await app.inject({ url: '/healthz', headers: { host: '127.0.0.1:8080' } })).json()).toEqual({
      ok: true,
    });
    expect((await app.inject({ url: '/state', headers: { host: 'localhost' } })).statusCode).toBe(503);
    await app.close();
  });
  it('turns away another host name', async () => {
    const app = statusServer(() => null);
    for (const host of ['charger.example', '127.0.0.1.example', 'evil.test:80'])
      expect((await app.inject({ url: '/healthz', headers: { host } })).statusCode).toBe(403);
    await app.close();
  });
  it('takes no orders', async () => {
    const app = statusServer(() => null);
    for (const method of ['POST', 'PUT', 'DELETE', 'PATCH'] as const)
      expect((await app.inject({ method, url: '/state', headers: { host: 'localhost' } })).statusCode).toBe(
        404,
      );
    await app.close();
  });
});
