/** A small storm in three shards and in one, as processes; and what a scheduler is told in the examples. */
import { spawnSync } from 'node:child_process';
import { chmodSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { WHOLE } from '../../src/campaign/shard.js';
import { addMerge } from '../../src/cli/merge.js';
import { addStorm } from '../../src/cli/storm.js';
import { written } from '../unit/campaign/fake.js';
import { runHere } from './in-process.js';
import { endAll, loopwarden, ROOT, temporaryFolder } from './process.js';

afterAll(endAll);

const withoutSpeed = (text: string): string => text.replace(/^speed .*\n/m, '');

describe('a storm in three shards', () => {
  // Short ones: what is asked is whether a session comes out the same whatever ran before it in its process.
  const STORM = ['storm', '--seed', '5', '--from', '93', '--sessions', '6', '--workers', '1'];

  it('merges into the bytes and the words of the undivided one', { timeout: 120_000 }, async () => {
    const cwd = temporaryFolder();
    const run = (...more: string[]) => loopwarden([...STORM, ...more], { cwd });
    const [whole, ...shards] = await Promise.all([
      run('--out', 'whole.ndjson'),
      ...[1, 2, 3].map((i) => run('--shard', `${i}/3`, '--out', `parts/${i}.ndjson`)),
    ]);
    expect([whole, ...shards].map((ended) => ended?.code)).toEqual([0, 0, 0, 0]);
    const parts = [3, 1, 2].map((i) => `parts/${i}.ndjson`);
    const merged = await loopwarden(['merge', ...parts, '--out', 'merged.ndjson'], { cwd });
    expect(merged).toMatchObject({ code: 0, stderr: '' });
    const [a, b] = ['whole', 'merged'].map((name) => readFileSync(path.join(cwd, `${name}.ndjson`), 'utf8'));
    expect(b).toBe(a);
    expect(a?.split('\n').filter((line) => line.startsWith('{"index":'))).toHaveLength(6);
    expect(whole?.stdout).toMatch(/^speed /m);
    expect(merged.stdout).toBe(withoutSpeed(whole?.stdout ?? ''));
    expect(shards[1]?.stdout).toMatch(/^shard +2 of 3, of 6 sessions from 93 on\n2 sessions, /m);
  });
});

describe('options of a shard', () => {
  it.each(['4/3', '0/3', 'x', '1', '1/0', '-1/3', '1.5/3', '1/3/5', '', '1/100001'])(
    'refuses --shard %j, and says what is expected',
    async (text) => {
      const said = await runHere(addStorm, 'storm', '--out', 'never.ndjson', `--shard=${text}`);
      expect(said).toMatchObject({ code: 2, stdout: '' });
      expect(said.stderr).toMatch(/--shard .*expected i\/n, with .* i from 1 to n, e\.g\. 1\/3/);
    },
  );
  it('refuses before it runs what would come to nothing', async () => {
    const folder = temporaryFolder();
    writeFileSync(path.join(folder, 'file'), '');
    const storm = async (...args: string[]): Promise<string> => {
      const said = await runHere(addStorm, 'storm', ...args);
      expect(said).toMatchObject({ code: 2, stdout: '' });
      return said.stderr;
    };
    expect(await storm('--shard', '1/3')).toMatch(/^--shard needs --out FILE/);
    expect(await storm('--reproduce', '{}', '--out', 'x')).toMatch(/^--reproduce runs one session/);
    expect(await storm('--out', folder)).toBe(`${folder} cannot be used: it is a folder, not a file`);
    expect(await storm('--out', path.join(folder, 'file', 'below'))).toMatch(/file cannot be used: /);
    expect(readdirSync(folder)).toEqual(['file']);
  });
});

describe('merging results with a broken invariant', () => {
  const isBroken = (index: number): boolean => index % 5 === 2;
  async function files(...texts: readonly string[]): Promise<string[]> {
    const folder = temporaryFolder();
    return texts.map((text, i) => {
      const file = path.join(folder, `${i}.ndjson`);
      writeFileSync(file, text);
      return file;
    });
  }

  it('exits and tells as the undivided run, on which build it was written', async () => {
    const shards = await Promise.all([1, 2, 3].map((index) => written(0, 30, { index, of: 3 }, isBroken)));
    const parts = await runHere(addMerge, 'merge', ...(await files(...shards)));
    const whole = await runHere(addMerge, 'merge', ...(await files(await written(0, 30, WHOLE, isBroken))));
    expect(parts).toEqual(whole);
    expect(parts.code).toBe(7);
    expect(parts.stdout).toMatch(/^30 sessions, 6 with a broken invariant\n {2}session 2: at 2:\n/m);
    expect(parts.stdout.match(/^session (\d+), made small:$/gm)).toEqual(
      [2, 7, 12].map((i) => `session ${i}, made small:`),
    );
    expect(parts.stderr).toMatch(/^these are results of loopwarden 0\.0\.0, build b1; they are told with /);
    const json = await runHere(addMerge, 'merge', '--json', ...(await files(...shards)));
    const report = JSON.parse(json.stdout);
    expect(report).toMatchObject({ sessions: 30, from: 0, seed: 11, exits: { 0: 10, 3: 20 } });
    expect(report.reproduce).toHaveLength(3);
    expect(report.failures.map((f: { index: number }) => f.index)).toEqual([2, 7, 12, 17, 22, 27]);
    expect(Object.keys(report)).not.toContain('tookS');
  });

  it('writes nothing when the parts do not belong together, and never over one of them', async () => {
    const [first = '', other = ''] = await files(
      await written(0, 9, { index: 1, of: 2 }),
      await written(0, 9, { index: 2, of: 2 }),
    );
    const out = path.join(path.dirname(first), 'out.ndjson');
    expect(await runHere(addMerge, 'merge', first, '--out', out)).toMatchObject({ code: 2, stdout: '' });
    expect(() => readFileSync(out)).toThrow(/ENOENT/);
    const over = await runHere(addMerge, 'merge', first, other, '--out', other);
    expect(over).toMatchObject({ code: 2, stderr: `--out ${other} would write over ${other}` });
    expect(readFileSync(other, 'utf8')).toBe(await written(0, 9, { index: 2, of: 2 }));
  });
});

describe('the examples for schedulers', () => {
  const example = (name: string): string =>
    readFileSync(path.join(ROOT, 'config', 'campaigns', name), 'utf8');
  const job = parse(example('kubernetes-storm.yaml')).spec;
  const container = job.template.spec.containers[0];
  const tasks = Number(/^#SBATCH --array=1-(\d+)$/m.exec(example('slurm-storm.sh'))?.[1]);

  /** Runs what the example runs, with a command that notes how it was called and exits like this. */
  function called(
    script: string,
    env: NodeJS.ProcessEnv,
    exit: number,
  ): { args: string; code: number | null } {
    const folder = temporaryFolder();
    const command = path.join(folder, 'loopwarden');
    writeFileSync(command, `#!/bin/sh\nprintf '%s ' "$@"\nexit ${exit}\n`);
    chmodSync(command, 0o755);
    const options = { env: { ...process.env, ...env, PATH: `${folder}:${process.env.PATH}` } };
    const ended = spawnSync('sh', ['-c', script], { ...options, encoding: 'utf8' });
    return { args: ended.stdout, code: ended.status };
  }
  const kubernetes = (index: number, exit = 0) =>
    called(container.command[2], { JOB_COMPLETION_INDEX: String(index) }, exit);
  const slurm = (task: number, exit = 0) =>
    called(example('slurm-storm.sh'), { SLURM_ARRAY_TASK_ID: String(task) }, exit);

  it('run every shard once, each into a file of its own', () => {
    expect(container.command.slice(0, 2)).toEqual(['sh', '-c']);
    expect(job).toMatchObject({ completionMode: 'Indexed', parallelism: job.completions });
    const all = (n: number) => Array.from({ length: n }, (_, i) => `--shard ${i + 1}/${n} part-${i + 1}`);
    const shown = (args: string) => args.replace(/^.*(--shard \S+) --out \S*\/(part-\d+)\.ndjson $/, '$1 $2');
    expect(all(job.completions).map((_, i) => shown(kubernetes(i).args))).toEqual(all(job.completions));
    expect(all(tasks).map((_, i) => shown(slurm(i + 1).args))).toEqual(all(tasks));
    expect(slurm(1).args.replace('/shared/storm', '/results')).toBe(kubernetes(0).args);
  });
  it('take a broken invariant for a result, and anything else for a failure', () => {
    for (const [exit, code] of [
      [0, 0],
      [7, 0],
      [2, 2],
      [1, 1],
    ] as const) {
      expect(kubernetes(0, exit).code).toBe(code);
      expect(slurm(1, exit).code).toBe(code);
    }
  });
});
