/** The rules of the house, as a test: which room may import which, and what may appear where. */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';

const ROOT = path.resolve(import.meta.dirname, '../..');
const LONGEST_FILE_LINES = 400;

function sources(folder: string): string[] {
  return readdirSync(path.join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((e) => e.isFile() && e.name.endsWith('.ts'))
    .map((e) => path.relative(ROOT, path.join(e.parentPath, e.name)).split(path.sep).join('/'));
}
const ALL = [...sources('src'), ...sources('machines'), ...sources('simulators')];
const textOf = (file: string): string => readFileSync(path.join(ROOT, file), 'utf8');
/** Comments may speak of anything. */
const codeOf = (file: string): string =>
  textOf(file)
    .replace(/\/\*[\s\S]*?\*\//g, '')
    .replace(/(^|[^:])\/\/.*$/gm, '$1');

/** The room a file is in: `machines`, `simulators` or `src/x`. */
const roomOf = (file: string): string => {
  const parts = file.split('/');
  return parts[0] === 'src' ? `src/${parts[1]}` : (parts[0] ?? '');
};

function importsOf(file: string): string[] {
  return [...codeOf(file).matchAll(/(?:from|import)\s*\(?\s*'([^']+)'/g)].map((m) => m[1] as string);
}
const ourImports = (file: string): string[] =>
  importsOf(file)
    .filter((i) => i.startsWith('.'))
    .map((i) => path.posix.join(path.posix.dirname(file), i).replace(/\.js$/, '.ts'));

/** What each room may import of ours, beside itself. */
const MAY: Record<string, readonly string[]> = {
  machines: [],
  'src/host': [],
  'src/rig': ['src/host'],
  'src/checks': ['src/rig'],
  'src/link': ['src/rig', 'src/host'],
  'src/instruments': ['src/rig', 'src/link', 'src/host'],
  'src/emulator': ['simulators', 'src/instruments', 'src/rig', 'src/link', 'src/host'],
  'src/journal': ['src/rig', 'src/host'],
  'src/measure': ['src/rig', 'src/checks', 'src/host'],
  'src/supervisor': ['machines', 'src/rig', 'src/checks', 'src/link', 'src/journal', 'src/host'],
  'src/audit': ['machines', 'src/rig', 'src/checks', 'src/journal', 'src/supervisor'],
  simulators: ['src/rig', 'src/link', 'src/host'],
  'src/campaign': ['src/host'],
  'src/storm': [
    'src/campaign',
    'src/audit',
    'machines',
    'simulators',
    'src/rig',
    'src/checks',
    'src/supervisor',
    'src/rehearsal',
    'src/host',
  ],
  'src/rehearsal': [
    'src/audit',
    'simulators',
    'src/rig',
    'src/checks',
    'src/link',
    'src/journal',
    'src/supervisor',
    'src/host',
  ],
  'src/page': ['src/rig', 'src/checks', 'src/link', 'src/supervisor', 'src/host'],
  'src/paper': ['src/host'],
  'src/report': [
    'src/paper',
    'src/audit',
    'src/rig',
    'src/checks',
    'src/journal',
    'src/supervisor',
    'src/host',
  ],
  'src/prove': [
    'src/campaign',
    'src/audit',
    'src/paper',
    'src/rehearsal',
    'simulators',
    'src/rig',
    'src/checks',
    'src/link',
    'src/supervisor',
    'src/host',
  ],
  'src/plan': [
    'src/rehearsal',
    'src/paper',
    'simulators',
    'src/rig',
    'src/checks',
    'src/supervisor',
    'src/host',
  ],
  'src/fleet': ['src/audit', 'src/rig', 'src/checks', 'src/journal', 'src/host'],
  'src/learn': ['src/audit', 'simulators', 'src/rig', 'src/checks', 'src/host'],
  'src/cli': [
    'src/learn',
    'src/campaign',
    'src/audit',
    'src/fleet',
    'src/paper',
    'src/prove',
    'src/instruments',
    'src/emulator',
    'src/report',
    'src/page',
    'src/plan',
    'machines',
    'simulators',
    'src/rig',
    'src/checks',
    'src/link',
    'src/journal',
    'src/measure',
    'src/supervisor',
    'src/rehearsal',
    'src/storm',
    'src/host',
  ],
};

describe('rooms', () => {
  it('has no room without a rule', () => {
    expect([...new Set(ALL.map(roomOf))].filter((room) => !(room in MAY))).toEqual([]);
  });
  it('imports only what each room may', () => {
    const wrong = ALL.flatMap((file) =>
      ourImports(file)
        .map(roomOf)
        .filter((room) => room !== roomOf(file) && MAY[roomOf(file)]?.includes(room) !== true)
        .map((room) => `${file} imports ${room}`),
    );
    expect(wrong).toEqual([]);
  });
  it('reads files in src/rig only through the loader', () => {
    const readers = sources('src/rig').filter((f) => ourImports(f).includes('src/host/files.ts'));
    expect(readers.sort()).toEqual(['src/rig/extended.ts', 'src/rig/load.ts']);
  });
});

describe('the world is behind interfaces', () => {
  const only = (what: string, pattern: RegExp, allowed: readonly string[]) =>
    it(`${what} only in ${allowed.join(', ') || 'no file'}`, () => {
      const found = ALL.filter((file) => pattern.test(codeOf(file)));
      expect(found.filter((file) => !allowed.includes(file))).toEqual([]);
    });
  only('wall clock and timers', /\bDate\.now\b|\bperformance\b|\bset(Timeout|Interval|Immediate)\b/, [
    'src/host/clock.ts',
  ]);
  only('the class Date', /\bnew Date\b/, ['src/host/clock.ts']);
  only('randomness', /\bMath\.random\b|\brandomBytes\b|\brandomUUID\b|\bgetRandomValues\b/, [
    'src/host/random.ts',
  ]);
  only('the file system', /from 'node:fs(\/promises)?'|from 'fs'/, [
    'src/host/big-file.ts',
    'src/host/durable-file.ts',
    'src/host/files.ts',
    'src/host/journal-store.ts',
    'src/host/terminal.ts',
  ]);
  only('serialport', /from 'serialport'|from '@serialport\//, [
    'src/link/serial.ts',
    'src/link/serial-bytes.ts',
  ]);
  only('modbus-serial', /from 'modbus-serial'/, ['src/instruments/modbus-session.ts']);
  only('node-pty', /from '@lydell\/node-pty'/, ['simulators/pty.ts']);
  only('xstate', /from 'xstate'/, ['machines/session.ts', 'src/supervisor/decide.ts']);
  only('the analytical engine', /@duckdb\//, ['src/fleet/engine.ts']);
  only('the solver of linear programmes', /['"]highs['"]/, ['src/plan/solver.ts']);
  only('child processes', /from 'node:child_process'/, []);
});

describe('the certificate', () => {
  it('is made of what it is given: no file, no network, no clock', () => {
    const own = sources('src/prove/certificate');
    expect(own.length).toBeGreaterThan(3);
    const wrong = own.flatMap((file) =>
      ourImports(file)
        .filter(
          (to) => /^src\/host\//.test(to) && !['src/host/words.ts', 'src/host/calendar.ts'].includes(to),
        )
        .map((to) => `${file} imports ${to}`),
    );
    expect(wrong).toEqual([]);
  });
});

describe('the analytical engine', () => {
  it('is loaded by the commands that need it, when they need it', () => {
    // A type costs nothing; a static import of a value would load it with every command.
    expect(codeOf('src/fleet/engine.ts')).not.toMatch(/^import (?!type).*@duckdb/m);
    const loaders = ['export', 'query', 'load', 'gate', 'engine'].map((name) => `src/fleet/${name}.ts`);
    const statically = ALL.filter((file) => !loaders.includes(file)).flatMap((file) =>
      [...codeOf(file).matchAll(/^(?:import (?!type)|export ).*from '(\.[^']+)'/gm)]
        .map((m) => path.posix.join(path.posix.dirname(file), m[1] as string).replace(/\.js$/, '.ts'))
        .filter((to) => loaders.includes(to))
        .map((to) => `${file} imports ${to}`),
    );
    expect(statically).toEqual([]);
  });
});

describe('the pure rooms stay pure', () => {
  it('gives machines and checks no library but xstate', () => {
    const wrong = [...sources('machines'), ...sources('src/checks')].flatMap((file) =>
      importsOf(file)
        .filter((i) => !i.startsWith('.') && i !== 'xstate')
        .map((i) => `${file} imports ${i}`),
    );
    expect(wrong).toEqual([]);
  });
  it('gives the machine no timers, no invocations and no raised events', () => {
    const code = sources('machines').map(codeOf).join('\n');
    expect(code).not.toMatch(/\bafter:|\binvoke:|\braise\(|\bsendTo\(|\balways:/);
  });
});

describe('files', () => {
  it('keeps every file short', () => {
    const long = [...ALL, ...sources('tests')]
      .map((file) => ({ file, lines: textOf(file).split('\n').length - 1 }))
      .filter(({ lines }) => lines > LONGEST_FILE_LINES);
    expect(long).toEqual([]);
  });
  it('opens every source file with a comment that says what it is for', () => {
    expect(ALL.filter((file) => !/^(#!.*\n)?\/\*\*/.test(textOf(file)))).toEqual([]);
  });
});

describe('the reference device', () => {
  const text = textOf('simulators/reference-device/device.c');
  const between = (from: string, to: string): string =>
    text
      .slice(text.indexOf(`/* ==== ${from} `), text.indexOf(`/* ==== ${to} `))
      .replace(/\/\*[\s\S]*?\*\//g, '');

  it('has a core to copy without heap, stdio, floating point or anything of the system', () => {
    const core = between('1', '4');
    expect(core.split('\n').length).toBeGreaterThan(500);
    expect(core).not.toMatch(
      /\b(double|float|malloc|calloc|realloc|free|printf|puts|FILE|errno|read|write)\b/,
    );
    expect(core).not.toMatch(/#\s*include/);
  });
  it('is one file of bounded length, and that one is the only exception', () => {
    expect(text.split('\n').length).toBeLessThan(1200);
    const others = readdirSync(path.join(ROOT, 'simulators/reference-device')).filter(
      (f) => !/\.md$/.test(f),
    );
    expect(others).toEqual(['device.c']);
  });
});
