/**
 * Finds a real browser: first the one that comes from npm with the rest of this project, so that a machine with
 * nothing but Node has one; else one that is installed. Of use to tests and benchmarks alike.
 *
 * The one from npm is packed. It is unpacked once a run, into a folder that the run removes: unpacked in the system's
 * temporary folder, where it goes by itself, it would take whatever lies there under its name.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { setTimeout as later } from 'node:timers/promises';

const PACKAGE = '@sparticuz/chromium';
const INSTALLED = [process.env.CHROMIUM ?? '', '/usr/bin/chromium', '/usr/bin/chromium-browser'];
/** Names the folder of the run to every process of it. */
const FOLDER = 'LOOPWARDEN_BROWSER_FOLDER';
const WAIT_MS = 180_000;
const UNPACK = `import chromium from '${PACKAGE}'; process.stdout.write(await chromium.executablePath());`;

/** Without `--single-process`, which crashes, and `--disable-web-security`, which would void what is tested of origins. */
export const FLAGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--font-render-hinting=none',
  '--hide-scrollbars',
  '--mute-audio',
];

/** @returns removes it again */
export function newFolder() {
  const folder = mkdtempSync(path.join(tmpdir(), 'loopwarden-browser-'));
  process.env[FOLDER] = folder;
  return () => rmSync(folder, { recursive: true, force: true });
}

/** Where the package is not installed, or holds nothing for this machine. */
function packed() {
  try {
    createRequire(import.meta.url).resolve(PACKAGE);
  } catch {
    return `${PACKAGE} is not installed`;
  }
  const here = `${process.platform} ${process.arch}`;
  return here === 'linux x64' ? null : `${PACKAGE} has none for ${here}`;
}

/** Its own list of fonts names a folder it was not unpacked to. What the system has comes first. */
const fontsIn = (folder) => `<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig>
  <include ignore_missing="yes">/etc/fonts/fonts.conf</include>
  <dir>${folder}/fonts</dir>
  <cachedir>${folder}/fonts-cache</cachedir>
</fontconfig>
`;

function unpack(folder) {
  const unpacked = spawnSync(process.execPath, ['--input-type=module', '--eval', UNPACK], {
    cwd: import.meta.dirname,
    encoding: 'utf8',
    // Named as a runtime for which it brings the libraries a bare system lacks; read when it is imported.
    env: { ...process.env, TMPDIR: folder, AWS_LAMBDA_JS_RUNTIME: 'nodejs20.x' },
  });
  if (unpacked.status !== 0) return { why: `${PACKAGE} cannot be unpacked: ${lastLine(unpacked.stderr)}` };
  writeFileSync(path.join(folder, 'fonts.conf'), fontsIn(folder));
  const env = {
    LD_LIBRARY_PATH: path.join(folder, 'al2023', 'lib'),
    FONTCONFIG_FILE: path.join(folder, 'fonts.conf'),
    // Without a language of its own it makes one up, `en-US@posix`, that no page can use.
    LANG: 'en_US.UTF-8',
    LC_ALL: '',
  };
  const executablePath = unpacked.stdout;
  const started = spawnSync(executablePath, ['--version'], {
    encoding: 'utf8',
    env: { ...process.env, ...env },
  });
  if (started.status !== 0)
    return { why: `${PACKAGE} does not start: ${lastLine(started.stderr ?? String(started.error))}` };
  return { executablePath, env, what: `${PACKAGE}, ${started.stdout.trim()}` };
}
const lastLine = (text) => text.trim().split('\n').at(-1) ?? '';

/** By one process of the run; the others wait for it. */
async function unpackedOnce() {
  if (process.env[FOLDER] === undefined) process.on('exit', newFolder());
  const folder = process.env[FOLDER];
  const done = path.join(folder, 'found.json');
  try {
    mkdirSync(path.join(folder, 'lock'));
  } catch {
    for (let waitedMs = 0; !existsSync(done); waitedMs += 100) {
      if (waitedMs > WAIT_MS) return { why: `${PACKAGE} was not unpacked within ${WAIT_MS / 1000} s` };
      await later(100);
    }
    return JSON.parse(readFileSync(done, 'utf8'));
  }
  const found = unpack(folder);
  writeFileSync(`${done}.new`, JSON.stringify(found));
  renameSync(`${done}.new`, done);
  return found;
}

/** `why` says what was tried where there is none. */
export async function findBrowser() {
  const not = packed();
  const fromNpm = not === null ? await unpackedOnce() : { why: not };
  if (fromNpm.why === undefined) return fromNpm;
  const executablePath = INSTALLED.find((place) => place !== '' && existsSync(place));
  if (executablePath !== undefined) return { executablePath, env: {}, what: executablePath };
  const places = INSTALLED.slice(1).join(' or ');
  return { why: `no browser: ${fromNpm.why}; none at ${places}, and CHROMIUM names none` };
}
