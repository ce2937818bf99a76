/** What a person gets wrong: exit 2, one message that says what, where and what instead; nothing left behind. */
import { mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { type Ended, endAll, loopwarden, ROOT, temporaryFolder } from './process.js';

const TIMEOUT = { timeout: 60_000 };
const STACK = /^\s+at .*(:\d+|\(.*\))/m;
const HINT = '(--help lists the options)\n';

afterAll(endAll);

const rigText = (more: string): string =>
  `extends: ${path.join(ROOT, 'config/depot-cable.yaml')}\nname: try\ntitle: A variant for a test\n${more}`;

/** Runs in a folder that holds these files, and sees to it that nothing else is in it afterwards. */
async function refused(
  args: readonly string[],
  files: Readonly<Record<string, string>> = {},
  kept: readonly string[] = [],
): Promise<Ended> {
  const cwd = temporaryFolder();
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(path.dirname(path.join(cwd, name)), { recursive: true });
    writeFileSync(path.join(cwd, name), text);
  }
  const before = readdirSync(cwd, { recursive: true }).map(String);
  const ended = await loopwarden(args, { cwd });
  expect(ended).toMatchObject({ code: 2, signal: null });
  expect(ended.stderr).not.toMatch(STACK);
  expect(ended.stderr).not.toMatch(/loopwarden itself has failed/);
  expect(ended.stderr).toMatch(/^\S.*\n$/s);
  const after = readdirSync(cwd, { recursive: true }).map(String);
  expect(after.filter((name) => !before.includes(name) && !kept.includes(name))).toEqual([]);
  return ended;
}

/** The whole of standard error is this one line, and nothing was printed that could be taken for a result. */
async function oneLine(args: readonly string[], pattern: RegExp, files = {}): Promise<void> {
  const { stderr } = await refused(args, files);
  expect(stderr.replace(HINT, '').split('\n')).toHaveLength(2);
  expect(stderr).toMatch(pattern);
}

describe.concurrent('rigs', () => {
  it('missing, by name and by path', TIMEOUT, async () => {
    await oneLine(['dry-run', '--rig', 'no-such-rig'], /no rig named no-such-rig.*depot-cable/);
    await oneLine(['limits', '--rig', './none.yaml'], /none\.yaml cannot be read: there is no such file/);
    await oneLine(['limits', '--rig', ROOT], /it is a folder, not a file/);
  });

  it('with a unit that is not ours in a key: the line, and the key that is meant', TIMEOUT, async () => {
    const files = { 'rig.yaml': rigText('link:\n  periodS: 0.05\n') };
    const { stderr } = await refused(['dry-run', '--rig', './rig.yaml'], files);
    expect(stderr).toMatch(/rig\.yaml:5 +link\.periodS: .*periodMs/);
  });

  it('with a negative area: the line, what was found and what was expected', TIMEOUT, async () => {
    const files = { 'rig.yaml': rigText('connection:\n  cable:\n    mm2: -95\n') };
    const { stderr } = await refused(['limits', '--rig', './rig.yaml'], files);
    expect(stderr).toMatch(/rig\.yaml:6 +connection\.cable\.mm2: .*-95/);
  });

  it('with several faults: all of them at once', TIMEOUT, async () => {
    const files = {
      'rig.yaml': rigText('connection:\n  cable:\n    mm2: -95\n    lengthFt: 60\nlink:\n  silenceMs: 400\n'),
    };
    const { stderr } = await refused(['limits', '--rig', './rig.yaml'], files);
    expect(stderr).toMatch(/rig\.yaml cannot be used \(\d+ faults\):\n/);
    for (const key of ['connection.cable.mm2', 'connection.cable.lengthFt', 'link.silenceMs'])
      expect(stderr).toContain(key);
  });

  it('that are no YAML', TIMEOUT, async () => {
    const { stderr } = await refused(['limits', '--rig', './rig.yaml'], { 'rig.yaml': 'name: [\n' });
    expect(stderr).toMatch(/rig\.yaml/);
  });
});

describe.concurrent('scenarios', () => {
  it('unknown', TIMEOUT, async () => {
    await oneLine(['dry-run', '--scenario', 'no-such'], /no scenario named no-such.*loop-opened/);
    await oneLine(['dry-run', '--scenario', './none.yaml'], /none\.yaml cannot be read/);
    await oneLine(['sim-device', '--pty', '--scenario', 'no-such'], /no scenario named no-such/);
  });

  it('with several faults: all of them, each with its line', TIMEOUT, async () => {
    const text = `name: Bad Name
title: "A bad one"
rig: depot-cable
seed: -1
wish: { targetSoc: 80 }
inject:
  - { fault: no-such-fault, phase: holding }
  - { fault: loop-open, phase: nowhere, afterM: 1 }
expect: { outcome: exploded, exit: 3 }
`;
    const { stderr } = await refused(['dry-run', '--scenario', './bad.yaml'], { 'bad.yaml': text });
    expect(stderr).toMatch(/^scenario bad\.yaml cannot be used \(\d+ faults\):\n/);
    for (const at of ['1  name', '4  seed', '5  wish.targetSoc', '7  inject.0.fault', '8  inject.1.phase'])
      expect(stderr).toContain(`bad.yaml:${at}`);
    expect(stderr).toContain('afterM');
    expect(stderr).toContain('bad.yaml:9  expect.outcome');
  });

  it('for a rig that is not there', TIMEOUT, async () => {
    const text = `name: lost\ntitle: "A lost one"\nrig: no-such-rig\nseed: 1\nwish: {}\nexpect: { outcome: released, exit: 0 }\n`;
    await oneLine(['dry-run', '--scenario', './lost.yaml'], /no rig named no-such-rig/, {
      'lost.yaml': text,
    });
  });
});

describe.concurrent('options', () => {
  const run = ['run', '--rig', 'depot-cable', '--port', '/dev/tty-that-is-not-there'];
  it.each([
    ['a share above 1', [...run, '--target-soc', '80'], /--target-soc.*80.*0 to 1/],
    ['no energy', [...run, '--target-energy-kwh', '-1'], /--target-energy-kwh.*-1/],
    ['no time', [...run, '--max-s', 'soon'], /--max-s.*soon/],
    ['an unknown option', [...run, '--fast'], /unknown option '--fast'/],
    ['no rig', ['run', '--port', '/dev/null'], /--rig/],
    ['no port', ['run', '--rig', 'depot-cable'], /--port PATH/],
    ['an unknown command', ['frobnicate'], /unknown command 'frobnicate'/],
    ['too many words', ['dry-run', 'fast'], /too many arguments/],
    ['a broken seed', ['dry-run', '--seed', '1.5'], /--seed.*1\.5.*whole number/],
    ['a word for a temperature', ['limits', '--ambient-c', 'warm'], /--ambient-c.*warm/],
    [
      'a key where nothing is written to sign',
      [...['acknowledge', '--rig', 'depot-cable', '--by', 'x', '--sign', 'key.pem']],
      /--sign and --head-file protect a journal: without --port none is written/,
    ],
    ['a name nobody has', ['acknowledge', '--rig', 'depot-cable', '--by', ' '], /--by: a name is needed/],
    ['both kinds of line', ['sim-device', '--pty', '--port', '/dev/null'], /either --pty.* or --port/],
    ['no line', ['sim-device'], /either --pty.* or --port/],
    ['no such scenario', ['scenarios', '--only', 'zzz'], /zzz/],
  ])('%s', TIMEOUT, async (_what, args, pattern) => {
    await oneLine(args, pattern);
  });
});

describe.concurrent('ports', () => {
  const run = (rig: string, ...ports: string[]) => [
    ...['run', '--rig', rig],
    ...ports.flatMap((port) => ['--port', port]),
  ];
  it.each([
    ['a name the rig does not have', run('depot-cable', 'gate=/dev/null'), /gate=.* has the ports charger/],
    ['no name where there are several', run('depot-split', '/dev/null'), /power=PATH .*field=PATH/],
    ['one of two', run('depot-split', 'power=/dev/null'), /no path for port field/],
    ['one twice', run('depot-split', 'power=/dev/null', 'power=/dev/zero'), /power is given twice/],
  ])('%s', TIMEOUT, async (_what, args, pattern) => {
    const { stderr } = await refused(args);
    expect(stderr).toMatch(pattern);
    expect(stderr.split('\n')).toHaveLength(2);
  });

  it('that is not a serial port', TIMEOUT, async () => {
    const state = temporaryFolder();
    const { stderr } = await refused([...run('depot-cable', '/dev/null'), '--state', state]);
    expect(stderr).toMatch(/^[^\n]*\/dev\/null[^\n]*it is not a serial port[^\n]*\n$/);
    expect(readdirSync(state)).not.toContain('depot-cable.latch.json');
  });
});

describe.concurrent('folders', () => {
  const port = ['--port', '/dev/tty-that-is-not-there'];
  it.each([
    ['a latch that cannot be read', ['run', '--rig', 'depot-cable', ...port, '--state', 'state']],
    ['the same, acknowledging', ['acknowledge', '--rig', 'depot-cable', '--by', 'x', '--state', 'state']],
    ['the same, in a dry run', ['dry-run', '--scenario', 'short-top-up', '--out', '.']],
  ])('%s is never "no latch"', TIMEOUT, async (_what, args) => {
    const files = { 'state/depot-cable.latch.json': '{"version":1,"trip":nu' };
    const { stderr } = await refused(args, files, ['journal.ndjson', 'truth.csv']);
    expect(stderr).toMatch(
      /^[^\n]*latch\.json: the trip latch cannot be read[^\n]*Treat the rig as latched[^\n]*\n$/,
    );
  });

  it.each([
    ['--out is a file', ['dry-run', '--out', 'file']],
    ['--out is below a file', ['dry-run', '--out', 'file/below']],
    ['--out of a run is a file', ['run', '--rig', 'depot-cable', ...port, '--state', '.', '--out', 'file']],
    ['--state is below a file', ['run', '--rig', 'depot-cable', ...port, '--state', 'file/below']],
    [
      '--state of an acknowledgement is a file',
      [...['acknowledge', '--rig', 'depot-cable', '--by', 'x', '--state', 'file']],
    ],
  ])('%s', TIMEOUT, async (_what, args) => {
    const { stderr } = await refused(args, { file: '' });
    expect(stderr).toMatch(/^file[^\n]* cannot be used: [^\n]*file[^\n]*\n$/);
  });
});
