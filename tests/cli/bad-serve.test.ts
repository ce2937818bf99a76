/** What a person gets wrong with `serve`: one message, exit 2, nothing left behind and nothing left running. */
import { readdirSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer } from 'node:net';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { endAll, loopwarden, temporaryFolder } from './process.js';

const TIMEOUT = { timeout: 60_000 };
afterAll(endAll);

/** @param kept what may be left behind */
async function refused(
  args: readonly string[],
  message: RegExp,
  files: Record<string, string> = {},
  kept: RegExp = /^$/,
) {
  const cwd = temporaryFolder();
  for (const [name, text] of Object.entries(files)) writeFileSync(path.join(cwd, name), text);
  const ended = await loopwarden(['serve', '--rig', 'depot-cable', ...args], { cwd });
  expect(ended).toMatchObject({ code: 2, signal: null, stdout: '' });
  expect(ended.stderr).toMatch(message);
  expect(ended.stderr.trimEnd().split('\n')).toHaveLength(1);
  const left = readdirSync(cwd).filter((name) => !(name in files) && !kept.test(name));
  expect(left).toEqual([]);
}

describe.concurrent('serve', () => {
  it('at an address that is none', TIMEOUT, () =>
    refused(['--http', 'localhost'], /^--http localhost: expected an address and a port/),
  );
  it('at an address others reach, without TLS', TIMEOUT, () =>
    refused(['--http', '0.0.0.0:0'], /needs TLS: give --tls-cert and --tls-key, or serve on 127\.0\.0\.1/),
  );
  it('with a certificate that is not there', TIMEOUT, () =>
    refused(
      ['--http', '0.0.0.0:0', '--tls-cert', 'a.pem', '--tls-key', 'b.pem'],
      /^--tls-cert a\.pem cannot be read/,
    ),
  );
  it('with a certificate that is none', TIMEOUT, () =>
    refused(
      ['--http', '0.0.0.0:0', '--tls-cert', 'a.pem', '--tls-key', 'b.pem'],
      /^--tls-cert a\.pem and --tls-key b\.pem cannot be used together: .*both as PEM/,
      { 'a.pem': 'no certificate\n', 'b.pem': 'no key\n' },
    ),
  );
  it('with a port of the rig that has no path', TIMEOUT, () =>
    refused(
      ['--port-serial', 'other=/dev/x'],
      /^--port-serial other=\/dev\/x: rig depot-cable has the ports/,
    ),
  );
  it('at a port in use', TIMEOUT, async () => {
    const other = createServer();
    await new Promise<void>((resolve) => void other.listen(0, '127.0.0.1', () => resolve()));
    const { port } = other.address() as AddressInfo;
    // The folder of a simulated charger is made before the port is asked for.
    await refused(
      ['--http', `127.0.0.1:${port}`],
      /the address cannot be used \(.*EADDRINUSE.*\); give another/,
      {},
      /^out$/,
    );
    await new Promise((resolve) => other.close(resolve));
  });
  it('with a latch that cannot be read: never taken for none', TIMEOUT, () =>
    refused(['--state', '.', '--http', '127.0.0.1:0'], /depot-cable\.latch\.json/, {
      'depot-cable.latch.json': '{"version":1',
    }),
  );
});
