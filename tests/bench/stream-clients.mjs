/**
 * Pages in a process of their own, so that what they cost is not taken for what the server costs: many that take
 * everything and one that takes nothing. Told by its first line on standard input where and as whom; when that ends it
 * says what each was given.
 */
import http from 'node:http';
import { connect } from 'node:net';
import { createInterface } from 'node:readline';

const pages = [];
let stalled = null;

function open(port, cookie) {
  const page = { status: 0, states: 0, ids: [], bytes: 0, closed: false };
  pages.push(page);
  let rest = '';
  const headers = { cookie, accept: 'text/event-stream', 'last-event-id': '0' };
  http
    .get({ port, host: '127.0.0.1', path: '/api/stream', headers, agent: false }, (answer) => {
      page.status = answer.statusCode;
      answer.on('data', (piece) => {
        page.bytes += piece.length;
        const parts = (rest + piece).split('\n\n');
        rest = parts.pop();
        for (const part of parts) {
          if (part.includes('event: state')) page.states++;
          const id = /^id: (\d+)$/m.exec(part)?.[1];
          if (id !== undefined) page.ids.push(Number(id));
        }
      });
      answer.on('close', () => {
        page.closed = true;
      });
    })
    .on('error', () => {});
}

const lines = createInterface({ input: process.stdin });
lines.once('line', (line) => {
  const { port, cookies } = JSON.parse(line);
  const [first, ...others] = cookies;
  for (const cookie of others) open(port, cookie);
  stalled = connect(port, '127.0.0.1');
  stalled.on('error', () => {});
  stalled.pause();
  stalled.write(
    `GET /api/stream HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nCookie: ${first}\r\nAccept: text/event-stream\r\n\r\n`,
  );
});
lines.once('close', () => {
  // Once and in order: each number one more than the last.
  const inOrder = (ids) => ids.every((id, i) => id === i + 1);
  const told = pages.map(({ status, states, ids, bytes, closed }) => ({
    ...{ status, states, bytes, closed, last: ids.at(-1) ?? 0, inOrder: inOrder(ids) },
  }));
  process.stdout.write(`${JSON.stringify(told)}\n`, () => process.exit(0));
});
