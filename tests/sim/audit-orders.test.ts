/** Orders that start no session, as their audit tells them: carried out, refused, or taken back. */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { Audit } from '../../src/audit/audit.js';
import { entryOf } from '../../src/audit/entry.js';
import { OrderDoneFinder } from '../../src/audit/order-done.js';
import { addAudit } from '../../src/cli/audit.js';
import { SOFTWARE } from '../../src/host/version.js';
import { loadRig } from '../../src/rig/load.js';
import type { PersonOrder } from '../../src/supervisor/session-types.js';
import { runHere } from '../cli/in-process.js';
import { endAll, temporaryFolder } from '../cli/process.js';
import { recorded } from '../unit/journal/recorded.js';
import { reported } from '../unit/report-journals.js';

afterAll(endAll);

type Scenario = Parameters<typeof recorded>[0]['scenario'];
const journalOf = async (order: PersonOrder['order'], scenario: Partial<Scenario>): Promise<string> =>
  (await recorded({ loaded: loadRig('depot-cable'), order, scenario: { seed: 3, wish: {}, ...scenario } }))
    .text;

const auditOf = (text: string) => {
  const audit = new Audit({ software: SOFTWARE });
  audit.feed(Buffer.from(text));
  return audit.end();
};
async function told(text: string): Promise<string> {
  const file = path.join(temporaryFolder(), 'journal.ndjson');
  writeFileSync(file, text);
  return (await runHere(addAudit, 'audit', file)).stdout;
}

describe('an order that starts no session', () => {
  it('is told as carried out when it was: a latch acknowledged', async () => {
    const text = await journalOf('acknowledge', { start: { latched: true } });
    const audit = auditOf(text);
    expect(audit.outcome?.outcome).toBe('refused');
    expect(audit.carriedOut).toEqual({ order: 'acknowledge', by: 'dry-run' });
    const page = await told(text);
    expect(page).toMatch(
      /^ended +acknowledged: the latch of the device was cleared, asked for by dry-run; exit 0$/m,
    );
    expect(page).not.toMatch(/^ended +refused/m);
    const { html } = await reported(text);
    expect(html).toContain('CARRIED OUT');
    expect(html).not.toContain('<strong>REFUSED</strong>');
  });
  it('is told as carried out when it was: a plug freed', async () => {
    const { carriedOut, diverged } = auditOf(await journalOf('free-plug', { start: { plugLocked: true } }));
    expect(carriedOut?.order).toBe('free-plug');
    expect(diverged).toBe(false);
  });
  it('is not, when somebody takes it back while it waits: its end then stands before the word that brought it', () => {
    const entries = (last: 'stop' | 'limit-current') =>
      [
        ['person', { order: 'acknowledge', by: 'A' }, 0],
        ['order', { port: 0, seq: 1, orders: [{ name: 'clear-latch', args: {} }], sent: true }, 50],
        ['end', { outcome: 'refused', endReason: 'operator' }, 90],
        ['person', { order: last, by: 'B' }, 90],
      ] as const;
    const done = (last: 'stop' | 'limit-current') => {
      const finder = new OrderDoneFinder();
      for (const [n, [k, b, tMs]] of entries(last).entries()) finder.take(entryOf({ n, t: tMs * 1e6, k, b }));
      return finder.result;
    };
    expect(done('stop')).toBeNull();
    expect(done('limit-current')).toEqual({ order: 'acknowledge', by: 'A' });
  });
  it('is not, when it was refused', async () => {
    const text = await journalOf('free-plug', { start: { plugLocked: true, latched: true } });
    const { carriedOut, refusals } = auditOf(text);
    expect(carriedOut).toBeNull();
    expect(refusals.length).toBeGreaterThan(0);
    expect(await told(text)).toMatch(/^ended +refused, .*; exit 4/m);
  });
  it('is not, when a start was refused or went its way', async () => {
    expect(auditOf(await journalOf('start', { start: { latched: true } })).carriedOut).toBeNull();
    const wish = { targetEnergyKwh: 0.05 };
    expect(auditOf(await journalOf('start', { wish })).carriedOut).toBeNull();
  });
});
