/** `serve` before a device on a line: killed and told to stop while current flows, and over TLS. */
import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Visitor } from '../cli/page-visitor.js';
import { Process, temporaryFolder } from '../cli/process.js';
import { PATIENT } from '../cli/rigs.js';
import { bleedersOff, madeSafe, openWire, type Wire } from '../cli/wire.js';
import { ofKind, readJournal } from './read-journal.js';

const LONG_MS = 150_000;
const SAFE_WITHIN_S = 20;

const serving = (wire: Wire, state: string): Process =>
  new Process([
    ...['serve', '--rig', wire.rig, '--port-serial', wire.supervisorEnd, '--http', '127.0.0.1:0'],
    ...['--json', '--state', state],
  ]);

/** A session begun over the page, at the moment when current flows. */
async function flowing(state = temporaryFolder()) {
  const wire = await openWire();
  await wire.device().says(/Answering/);
  const serve = serving(wire, state);
  const { visitor } = await Visitor.of(serve);
  expect((await visitor.post('/api/control', { do: 'take' })).status).toBe(200);
  expect((await visitor.order('start', { wish: { targetEnergyKwh: 5 } })).status).toBe(202);
  await wire.flows(serve);
  return { wire, serve, visitor, state };
}

const journalsOf = (state: string): string[] =>
  readdirSync(path.join(state, 'journals'))
    .sort()
    .map((file) => path.join(state, 'journals', file));

function openssl(): string | null {
  try {
    return execFileSync('openssl', ['version']).toString();
  } catch {
    return null;
  }
}

export function livePages(): void {
  describe.concurrent('a live page', () => {
    it('is killed: the device makes itself safe, and the next page shows the latch and starts nothing before it is acknowledged', {
      timeout: LONG_MS,
    }, async () => {
      const { wire, serve, state } = await flowing();
      serve.signal('SIGKILL');
      expect(await serve.end()).toMatchObject({ code: null, signal: 'SIGKILL' });
      await wire.reports('the device safe by itself', madeSafe, SAFE_WITHIN_S);

      const again = serving(wire, state);
      const { visitor } = await Visitor.of(again);
      const shown = await visitor.state('the latch', (s) => s.latch !== null, 5);
      expect(shown.latch).toMatchObject({ code: 'unfinished-journal', provenDead: null });
      await visitor.post('/api/control', { do: 'take' });
      expect((await visitor.order('start')).status).toBe(202);
      const refused = await visitor.state('a refused start', (s) => s.running === null && s.ended !== null);
      expect(refused.ended).toMatchObject({ outcome: 'refused', exit: 4 });
      const { events } = (await visitor.get('/api/events')).body;
      const codes = events.map((e: { code: string | null }) => e.code);
      expect(codes).toEqual(expect.arrayContaining(['unfinished-journal', 'device-latched']));

      await wire.reports('the bleeders off again', bleedersOff, SAFE_WITHIN_S);
      expect((await visitor.order('acknowledge')).status).toBe(202);
      await visitor.state('no latch', (s) => s.running === null && s.latch === null);
      // What the last session came to goes on being said.
      expect((await visitor.get('/api/state')).body.ended.outcome).toBe('refused');
      again.signal('SIGTERM');
      expect(await again.end()).toMatchObject({ code: 0, signal: null });
      wire.close();
    });

    it('hears Ctrl-C while current flows: the session is stopped normally, then the page ends', {
      timeout: LONG_MS,
    }, async () => {
      const { wire, serve, state, visitor } = await flowing();
      serve.signal('SIGINT');
      // It is still there to be looked at meanwhile, and to trip from.
      await visitor.state('ramping down', (s) => !['ramping', 'holding'].includes(s.phase), 30);
      const ended = await serve.end();
      expect(ended).toMatchObject({
        code: 0,
        signal: null,
        stderr: expect.stringMatching(/^Stopping normally\..*\n$/),
      });
      const { lines: records } = readJournal(journalsOf(state).at(-1) as string);
      expect(ofKind(records, 'trip')).toEqual([]);
      const person = JSON.stringify(ofKind(records, 'person'));
      expect(person).toMatch(/"order":"start","by":"Ada"/);
      expect(person).toMatch(/"order":"stop","by":"the terminal of the page"/);
      const latch = JSON.parse(readFileSync(path.join(state, `${PATIENT}.latch.json`), 'utf8'));
      expect(latch).toMatchObject({ open: null, trip: null });
      wire.close();
    });

    it('trips at the order of a watcher, and shows a latch that only the charger’s own machine may acknowledge', {
      timeout: LONG_MS,
    }, async () => {
      const { wire, serve, visitor } = await flowing();
      const { invitation } = (await visitor.post('/api/invitations', { role: 'watcher' })).body;
      const second = await visitor.ask('POST', '/api/sign-in', { invitation, name: 'Wim' });
      // That visitor is Wim now: the cookie was exchanged.
      expect(second.body).toMatchObject({ name: 'Wim', role: 'watcher', remote: false });
      expect((await visitor.order('stop')).status).toBe(403);
      expect((await visitor.order('trip-now')).status).toBe(202);
      const shown = await visitor.state(
        'the latch',
        (s) => s.latch?.provenDead === true && s.running === null,
      );
      expect(shown).toMatchObject({ latch: { code: 'trip-now' }, ended: { outcome: 'tripped', exit: 3 } });
      serve.signal('SIGTERM');
      expect(await serve.end()).toMatchObject({ code: 0 });
      wire.close();
    });

    it('whose port is gone says so in one sentence, orders nothing, and stays', {
      timeout: LONG_MS,
    }, async () => {
      const wire = await openWire();
      const serve = new Process([
        ...[
          'serve',
          '--rig',
          wire.rig,
          '--port-serial',
          '/dev/no-such-port',
          '--http',
          '127.0.0.1:0',
          '--json',
        ],
        ...['--state', temporaryFolder()],
      ]);
      const { visitor } = await Visitor.of(serve);
      await visitor.post('/api/control', { do: 'take' });
      for (const order of ['start', 'acknowledge', 'start']) {
        const answer = await visitor.order(order);
        expect([answer.status, answer.body.problem]).toEqual([409, expect.stringMatching(/no-such-port/)]);
        expect((await visitor.get('/api/state')).body.running).toBeNull();
      }
      serve.signal('SIGINT');
      expect(await serve.end()).toMatchObject({ code: 0 });
      wire.close();
    });

    const made = openssl();
    it.skipIf(made === null)(
      `over TLS is reached at every address${made === null ? ' (skipped: there is no openssl here)' : ''}`,
      { timeout: LONG_MS },
      async () => {
        const folder = temporaryFolder();
        const [key, cert] = ['key.pem', 'cert.pem'].map((name) => path.join(folder, name)) as [
          string,
          string,
        ];
        execFileSync('openssl', [
          ...[
            'req',
            '-x509',
            '-newkey',
            'ec',
            '-pkeyopt',
            'ec_paramgen_curve:prime256v1',
            '-nodes',
            '-days',
            '2',
          ],
          ...['-keyout', key, '-out', cert, '-subj', '/CN=localhost'],
          ...['-addext', 'subjectAltName=DNS:localhost,IP:127.0.0.1'],
        ]);
        const serve = new Process([
          ...['serve', '--rig', 'depot-cable', '--http', '0.0.0.0:0', '--tls-cert', cert, '--tls-key', key],
          ...['--host-name', 'localhost', '--json', '--state', folder],
        ]);
        const ca = readFileSync(cert, 'utf8');
        const { visitor, me, setCookie } = await Visitor.of(serve, { ca, at: '127.0.0.1' });
        expect(me).toMatchObject({ name: 'Ada', role: 'engineer', remote: false });
        expect(setCookie).toMatch(/; Secure/);
        const page = await visitor.get('/');
        expect([page.status, String(page.body).slice(0, 15)]).toEqual([200, '<!doctype html>']);
        expect((await visitor.get('/api/state')).body.phase).toBe('parked');
        serve.signal('SIGTERM');
        expect(await serve.end()).toMatchObject({ code: 0 });
      },
    );
  });
}
