/** `prove` from the command line: what it writes, what it takes up again, and proofs cut into shards. */
import { cpSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { endAll, loopwarden, temporaryFolder } from './process.js';

const TIMEOUT = { timeout: 60_000 };
const ASKED = ['prove', '--rig', 'depot-cable', '--procedure', 'emergency-stop', '--repeat', '2'];
const text = (...parts: string[]): string => readFileSync(path.join(...parts), 'utf8');

afterAll(endAll);

let whole = '';
beforeAll(async () => {
  whole = path.join(temporaryFolder(), 'whole');
  const ended = await loopwarden([...ASKED, '--out', whole]);
  expect(ended).toMatchObject({ code: 0, stderr: '' });
  expect(ended.stdout).toMatch(/^LIVE DC KILLS/);
  expect(ended.stdout).toMatch(/PASSED: 2 passed/);
}, 60_000);

describe.concurrent('a proof', () => {
  it('keeps a journal of every run, with its hash, and names the record each figure rests on', async () => {
    const proof = JSON.parse(text(whole, 'proof.json'));
    const [step] = proof.procedures[0].steps;
    expect(step.journals).toHaveLength(2);
    for (const measure of step.measures) {
      const line = text(whole, measure.journal).split('\n')[measure.n] as string;
      expect(JSON.parse(line).n).toBe(measure.n);
    }
    expect(readdirSync(path.join(whole, 'journals'))).toHaveLength(4);
  });

  it('is the same from its shards, merged: record, results and JUnit, byte for byte', TIMEOUT, async () => {
    const folder = temporaryFolder();
    const shards = [1, 2, 3].map((i) => path.join(folder, `shard-${i}`));
    const runs = shards.map((out, i) => loopwarden([...ASKED, '--shard', `${i + 1}/3`, '--out', out]));
    for (const ended of await Promise.all(runs)) expect(ended).toMatchObject({ code: 0, stderr: '' });
    const merged = path.join(folder, 'merged');
    mkdirSync(merged);
    const record = path.join(merged, 'runs.ndjson');
    const parts = [...shards].reverse().map((out) => path.join(out, 'runs.ndjson'));
    expect(await loopwarden(['merge', ...parts, '--out', record])).toMatchObject({ code: 0, stderr: '' });
    expect(readFileSync(record)).toEqual(readFileSync(path.join(whole, 'runs.ndjson')));
    for (const out of shards)
      cpSync(path.join(out, 'journals'), path.join(merged, 'journals'), { recursive: true });
    expect(await loopwarden([...ASKED, '--out', merged])).toMatchObject({ code: 0, stderr: '' });
    for (const name of [
      'proof.json',
      'junit.xml',
      ...readdirSync(path.join(whole, 'journals')).map((n) => `journals/${n}`),
    ])
      expect(text(merged, name)).toBe(text(whole, name));
  });

  it('is taken up where it was cut off, also in the middle of a line', TIMEOUT, async () => {
    const out = path.join(temporaryFolder(), 'cut');
    const part = text(whole, 'runs.part.ndjson').split('\n');
    mkdirSync(out);
    // The header, one run, and half of the next.
    const half = (part[2] as string).slice(0, 200);
    writeFileSync(path.join(out, 'runs.part.ndjson'), `${part[0]}\n${part[1]}\n${half}`);
    const ended = await loopwarden([...ASKED, '--out', out]);
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    expect(text(out, 'runs.ndjson')).toBe(text(whole, 'runs.ndjson'));
  });

  it('refuses the folder of another proof, and says what differs', TIMEOUT, async () => {
    const ended = await loopwarden([...ASKED, '--seed', '2', '--out', whole]);
    expect(ended.code).toBe(2);
    expect(ended.stderr).toMatch(/holds another proof: seed is 1 there and 2 now/);
  });

  it(
    'tells a charger that is weak, exit 7, and one that lies within the uncertainty, exit 8',
    TIMEOUT,
    async () => {
      const out = temporaryFolder();
      const weak = await loopwarden([
        ...ASKED,
        '--weakened',
        'stop-relay-missing',
        '--out',
        path.join(out, 'a'),
      ]);
      expect(weak.code).toBe(7);
      expect(weak.stdout).toMatch(/only the supervisor acted first, where the relay of the stop button must/);
      const file = path.join(out, 'near.yaml');
      const shipped = text('config/procedures/emergency-stop.yaml');
      // The relay takes 8 ms; each end is known to a count of the clock.
      const near = shipped.replace(
        /time: relay, withinMs: \{ value: 12/,
        'time: relay, withinMs: { value: 8',
      );
      expect(near).not.toBe(shipped);
      writeFileSync(file, near);
      const unsure = await loopwarden([
        ...ASKED.slice(0, 3),
        '--procedure',
        file,
        '--out',
        path.join(out, 'b'),
      ]);
      expect(unsure.code).toBe(8);
      expect(unsure.stdout).toMatch(/mark to relay: 8 ms \(\S+ to \S+\), at most 8: the limit lies within/);
    },
  );

  it('proves nothing where nobody can make a fault: no port is opened, exit 8', TIMEOUT, async () => {
    const out = path.join(temporaryFolder(), 'nobody');
    const ended = await loopwarden([...ASKED, '--port', '/dev/null', '--by', 'tester', '--out', out]);
    expect(ended).toMatchObject({ code: 8, stderr: '' });
    expect(ended.stdout).toMatch(/nobody can make stop-pressed here: there is no fault box/);
    const proof = JSON.parse(text(out, 'proof.json'));
    expect(proof.verdict).toBe('inconclusive');
    expect(proof.procedures[0].steps[0].measures[0]).toMatchObject({ spread: null, worst: null });
    expect(text(out, 'certificate.html')).not.toMatch(/>PASSED</);
  });

  it('asks for a name before it provokes a real trip, and for a port before it believes in a fault box', async () => {
    const nobody = await loopwarden([...ASKED, '--port', '/dev/null']);
    expect(nobody).toMatchObject({ code: 2 });
    expect(nobody.stderr).toMatch(/--by NAME is needed/);
    const nowhere = await loopwarden([...ASKED, '--fault-box', '/dev/null']);
    expect(nowhere).toMatchObject({ code: 2 });
    expect(nowhere.stderr).toMatch(/give its --port/);
  });
});
