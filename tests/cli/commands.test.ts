/** What the commands that only tell have to tell, and that the README speaks of the same ones. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { CATALOGUE, CODES } from '../../src/checks/catalogue.js';
import { PHASES } from '../../src/rig/roles.js';
import { EXIT, EXIT_TEXT } from '../../src/supervisor/outcome.js';
import { endAll, loopwarden, objectOf, ROOT } from './process.js';

const TIMEOUT = { timeout: 60_000 };
const README = readFileSync(path.join(ROOT, 'README.md'), 'utf8');

afterAll(endAll);

async function told(...args: string[]): Promise<string> {
  const ended = await loopwarden(args);
  expect(ended).toMatchObject({ code: 0, stderr: '' });
  return ended.stdout;
}

describe.concurrent('codes', () => {
  it('prints every code of the catalogue with its effect, and every exit code', TIMEOUT, async () => {
    const text = await told('codes');
    expect(text).toMatch(/^LIVE DC KILLS/);
    for (const code of CODES)
      expect(text).toMatch(new RegExp(`^${code} +${CATALOGUE[code].effect.replace('-', '\\-')}\\b`, 'm'));
    for (const [exit, meaning] of Object.entries(EXIT_TEXT))
      expect(text).toMatch(new RegExp(`^${exit} +${meaning.replace(/[()]/g, '.')}`, 'm'));
  });

  it('gives the same as JSON', TIMEOUT, async () => {
    const ended = await loopwarden(['codes', '--json']);
    const { codes, effects, exits } = objectOf<{
      codes: { code: string; effect: string; text: string; remedy: string }[];
      effects: Record<string, string>;
      exits: Record<string, string>;
    }>(ended);
    expect(codes.map((c) => c.code)).toEqual([...CODES]);
    for (const c of codes) {
      expect(effects).toHaveProperty(c.effect);
      expect(c.text.length).toBeGreaterThan(10);
      expect(c.remedy.length).toBeGreaterThan(5);
    }
    expect(exits).toEqual(EXIT_TEXT);
  });
});

describe.concurrent('limits', () => {
  it.each(['depot-cable', 'depot-split', 'terminus-shoes', 'yard-precharge'])(
    '%s: every limit has a figure and a source',
    TIMEOUT,
    async (rig) => {
      const ended = await loopwarden(['limits', '--rig', rig, '--json']);
      const said = objectOf<{
        limits: { path: string; value: unknown; unit: string; source: string }[];
        binding: { trainV: number; limits: { limit: string; setting: string }[] }[];
        tripTimes: { protection: string; totalMs: number; limitMs: number }[];
        linkLoad: unknown[];
      }>(ended);
      expect(said.limits.length).toBeGreaterThan(50);
      for (const limit of said.limits) {
        expect(limit).toMatchObject({ value: expect.any(Number), unit: expect.any(String) });
        expect(limit.source, limit.path).toMatch(/\S{3}/);
      }
      expect(said.binding.length).toBeGreaterThan(2);
      for (const row of said.binding) expect(row.limits[0]?.limit).toMatch(/\S/);
      for (const row of said.tripTimes) expect(row.totalMs, row.protection).toBeLessThanOrEqual(row.limitMs);
    },
  );

  it('prints them for people, with the caution', TIMEOUT, async () => {
    const text = await told('limits');
    expect(text).toMatch(/^LIVE DC KILLS/);
    expect(text).toMatch(/^contactors\.breakingCapacityA +600 +A +invented/m);
    expect(text).toMatch(/which limit binds/i);
    // 15 s and 1 s by EN 50122-1:2011 Table 6 (published, transcription); 340 V and 46.5 Hz are floors of G3.
    const flat = text.replace(/\s+/g, ' ');
    expect(flat).toMatch(/isolation 150 V, pins of a pulled plug below the safe voltage 160 V/);
    expect(flat).toMatch(/An engine set of class G3 or better .*G2 320 V, 45 Hz; G3 340 V, 46\.5 Hz/);
  });
});

describe.concurrent('the rest', () => {
  it('chart shows every phase', TIMEOUT, async () => {
    const text = await told('chart');
    expect(text).toMatch(/^stateDiagram-v2/m);
    for (const phase of PHASES) expect(text, phase).toMatch(new RegExp(phase.replace(/-/g, '[-_]')));
  });

  it('schema is the one that is shipped', TIMEOUT, async () => {
    expect(JSON.parse(await told('schema'))).toEqual(
      JSON.parse(readFileSync(path.join(ROOT, 'config/rig.schema.json'), 'utf8')),
    );
  });
  it.each(['procedure', 'exercise', 'route', 'timetable', 'store', 'tariff', 'renewables'])(
    'schema --%s is the one that is shipped',
    TIMEOUT,
    async (kind) => {
      expect(JSON.parse(await told('schema', `--${kind}`))).toEqual(
        JSON.parse(readFileSync(path.join(ROOT, `config/${kind}.schema.json`), 'utf8')),
      );
    },
  );

  it('version is that of the package', TIMEOUT, async () => {
    const { version } = JSON.parse(readFileSync(path.join(ROOT, 'package.json'), 'utf8'));
    expect(await told('--version')).toBe(`${version}\n`);
  });

  it('help shows the caution, every command and every exit code', TIMEOUT, async () => {
    const text = await told('--help');
    expect(text).toMatch(/^LIVE DC KILLS/);
    for (const [exit, meaning] of Object.entries(EXIT_TEXT)) expect(text).toContain(`${exit}  ${meaning}`);
    for (const command of commandsInReadme()) expect(text).toMatch(new RegExp(`^ +${command}\\b`, 'm'));
  });
});

const commandsInReadme = (): string[] =>
  [...README.matchAll(/^\| `([a-z-]+)[^`]*` +\|/gm)].map((row) => row[1] as string);

describe.concurrent('the README', () => {
  it('names every exit code, and no other', () => {
    const list = /^Exit codes: (.*)$/m.exec(README)?.[1] as string;
    const named = [...list.matchAll(/(?:^|· )(\d)/g)].map((exit) => Number(exit[1]));
    expect(named).toEqual(Object.keys(EXIT_TEXT).map(Number));
    expect(named).toEqual(Object.values(EXIT).sort());
    // A few words each, taken from the same sentence.
    const words = list.toLowerCase().replace(/\*/g, '').split(' · ');
    for (const [exit, meaning] of Object.entries(EXIT_TEXT)) {
      const first = /[a-z]{5,}/.exec(meaning.toLowerCase())?.[0] as string;
      expect(words[Number(exit)], meaning).toContain(first);
    }
  });

  it('speaks only of commands there are', TIMEOUT, async () => {
    const commands = commandsInReadme();
    expect(commands.length).toBeGreaterThan(8);
    const helps = await Promise.all(commands.map((command) => loopwarden([command, '--help'])));
    helps.forEach(({ code, stdout }, i) => {
      expect(code, commands[i]).toBe(0);
      expect(stdout).toContain(`loopwarden ${commands[i]}`);
    });
  });

  it('speaks only of options there are', TIMEOUT, async () => {
    const lines = [...README.matchAll(/^npx loopwarden ([a-z-]+)(.*)$/gm)];
    expect(lines.length).toBeGreaterThan(2);
    for (const [, command, rest] of lines) {
      // `keys new`, `measure loop`: the options are those of the command below; what stands behind # is a remark.
      const [said = ''] = (rest as string).split('#');
      const below = /^ ([a-z]+)(?= --)/.exec(said)?.[1];
      const { stdout } = await loopwarden([
        command as string,
        ...(below === undefined ? [] : [below]),
        '--help',
      ]);
      for (const [option] of said.matchAll(/--[a-z-]+/g)) expect(stdout).toContain(option);
    }
  });
});
