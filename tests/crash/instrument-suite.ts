/** Instruments in another process, each on its own pseudo-terminal, with the shipped command maps. */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { openPty } from '../../simulators/pty.js';
import { realClock } from '../../src/host/clock.js';
import { SerialLink } from '../../src/link/serial.js';
import { loopwarden, outcomeOf, Process, ptyDevice, ROOT, temporaryFolder } from '../cli/process.js';
import { patientInstrumentRig, patientMap, patientRig } from '../cli/rigs.js';
import { ofKind, readJournal } from './read-journal.js';

const TIMES = { timeout: 90_000 };
const RIG = 'depot-instruments';
/** Reached at the hold point. */
const LITTLE = ['--target-energy-kwh', '0.005'];

/** What cannot be proven dead is given up soon: these sessions end in vain, and are waited for. */
function impatientIn(rig: string): string {
  const file = path.join(temporaryFolder(), 'short.yaml');
  writeFileSync(
    file,
    `extends: ${rig}\nname: short\ntitle: gives up soon\ntimes: { makingSafeS: { value: 6, source: test } }\n`,
  );
  return file;
}

const portsOf = (ports: Record<string, string>): string[] =>
  Object.entries(ports).flatMap(([name, file]) => ['--port', `${name}=${file}`]);
const run = (ports: Record<string, string>, rig: string, wish = ['--target-energy-kwh', '1']) =>
  new Process([
    ...['run', '--rig', rig, '--by', 'tester', '--state', temporaryFolder(), '--json'],
    ...wish,
    ...portsOf(ports),
  ]);

export function instruments(): void {
  it.concurrent.each([
    ['depot-instruments', ['source', 'meter', 'field'], ['DC-SOURCE-850-320', 'DC-METER-9', 'lw-sim']],
    ['depot-module', ['module', 'field'], ['PM-850-320', 'lw-sim']],
  ])('%s: released', TIMES, async (name, names, models) => {
    const { ports } = await ptyDevice(['--rig', name]);
    expect(Object.keys(ports)).toEqual(names);
    const ended = await run(ports, patientInstrumentRig(name), LITTLE).end();
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    const outcome = outcomeOf(ended);
    expect(outcome).toMatchObject({
      outcome: 'released',
      endReason: 'target',
      endState: { provenDead: true, polesProvenOpen: true, outputDead: true, plugDead: true },
    });
    // What stands behind the ports is in the record as it says of itself.
    const { lines } = readJournal(outcome.journal);
    const audited = await loopwarden(['audit', outcome.journal]);
    expect(audited).toMatchObject({ code: 0, stderr: '' });
    expect([...new Set(ofKind(lines, 'device').map((l) => l.b.model))].sort()).toEqual([...models].sort());
  });

  it.concurrent.each([
    ['depot-instruments', 'source', 3],
    // Without a meter nothing is proven dead.
    ['depot-instruments', 'meter', 9],
    ['depot-module', 'module', 3],
  ] as const)(
    '%s, the line of the %s torn off while current flows: trips',
    TIMES,
    async (name, port, code) => {
      const { ports } = await ptyDevice([
        ...['--rig', name, '--instrument-fault', `${port}:unplugged@ramping+0.5`],
      ]);
      const ended = await run(ports, impatientIn(patientInstrumentRig(name))).end();
      expect(ended).toMatchObject({ code, stderr: '' });
      const { trip } = outcomeOf(ended);
      // A source that is gone has switched itself off: the current may tell of it before the silence does. On a busy
      // machine the readings may be old before the hang-up is noticed.
      const truthful = ['link-silent', 'reading-stale', ...(port === 'meter' ? [] : ['meter-disagrees'])];
      expect(truthful).toContain(trip?.code);
      expect(trip?.phase).toBe('ramping');
    },
  );

  describe.concurrent('an emulated battery in a third process', () => {
    const NAME = 'depot-emulated';
    async function stand() {
      const { ports } = await ptyDevice(['--rig', NAME, '--load-at', 'train']);
      const emulator = new Process([
        ...['emulate-battery', '--rig', NAME, '--instrument', patientMap('scpi-load')],
        ...['--port', ports.train as string],
        ...['--pty', '--json'],
      ]);
      const [line] = await emulator.says(/^\{.*\}\n/);
      const train = (JSON.parse(line) as { path: string }).path;
      return { emulator, ports: { charger: ports.charger as string, train } };
    }

    it('is charged, and parted from: released; then it is off, and ends', TIMES, async () => {
      const { emulator, ports } = await stand();
      const ended = await run(ports, patientRig(NAME), LITTLE).end();
      expect(outcomeOf(ended)).toMatchObject({ outcome: 'released', endReason: 'target', trip: null });
      expect(ended).toMatchObject({ code: 0, stderr: '' });
      emulator.signal('SIGTERM');
      expect(await emulator.end(10)).toMatchObject({ code: 0 });
    });

    it.each([
      [NAME, 'scpi-load', '/dev/tty-that-is-not-there', /^port load \(\S+\): there is no such port[^\n]*\n$/],
      [
        NAME,
        'scpi-source',
        '/dev/null',
        /scpi-source cannot be used \(1 fault\):\n[^\n]*role: converter, expected load\n$/,
      ],
      [
        'depot-cable',
        'scpi-load',
        '/dev/null',
        /^rig depot-cable: the port of the train must serve train and rafts alone[^\n]*\n$/,
      ],
    ])('of %s by %s on %s: exit 2', TIMES, async (rig, map, port, says) => {
      const ended = await loopwarden([
        ...['emulate-battery', '--rig', rig, '--instrument', map, '--port', port, '--pty', '--json'],
      ]);
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(says);
    });

    it('that dies while current flows: the session trips', TIMES, async () => {
      const { emulator, ports } = await stand();
      const folder = temporaryFolder();
      const rig = impatientIn(patientRig(NAME));
      const session = new Process([
        ...['run', '--rig', rig, '--by', 'tester', '--state', folder, ...portsOf(ports)],
      ]);
      await session.says(/ ramping .*\n(.*\n)* +ramping +[\d.]+ V +[1-9]\d/);
      emulator.signal('SIGKILL');
      const ended = await session.end();
      expect([3, 9]).toContain(ended.code);
      expect(ended.stdout).toMatch(/ TRIP [a-z-]+ .*in ramping/);
    });
  });

  describe.concurrent('a port with an instrument that', () => {
    it('is not there: exit 2 and one message', TIMES, async () => {
      const nowhere = '/dev/tty-that-is-not-there';
      const ended = await run({ source: nowhere, meter: nowhere, field: nowhere }, RIG).end();
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(/^port source [^\n]*there is no such port[^\n]*\n$/);
    });

    it('is held by another program: exit 2 and one message', TIMES, async () => {
      const pty = await openPty(realClock);
      const holder = new SerialLink({ clock: realClock, port: 'other', path: pty.path, baud: 115200 });
      await holder.open({ line: () => {}, down: () => {} });
      const ended = await run({ source: pty.path, meter: pty.path, field: pty.path }, RIG).end();
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(/^port source [^\n]*another program holds it[^\n]*\n$/);
      await holder.close();
      pty.close();
    });

    it('says nothing: exit 2 and one message', TIMES, async () => {
      const pty = await openPty(realClock);
      const ended = await run({ source: pty.path, meter: pty.path, field: pty.path }, RIG).end();
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(/^port source [^\n]*no answer to \*IDN\? within 80 ms[^\n]*\n$/);
      pty.close();
    });

    it('is another than the map says (two lines swapped): exit 2, naming both', TIMES, async () => {
      const { ports } = await ptyDevice(['--rig', RIG]);
      const { source, meter, field } = ports as { source: string; meter: string; field: string };
      const ended = await run({ source: meter, meter: source, field }, RIG).end();
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(
        /^port source [^\n]*DC-METER-9[^\n]*expects the model DC-SOURCE-850-320[^\n]*\n$/,
      );
    });

    it('has a map that cannot be used: exit 2, with file and line', TIMES, async () => {
      const folder = temporaryFolder();
      const map = path.join(folder, 'map.yaml');
      writeFileSync(
        map,
        `extends: ${path.join(ROOT, 'config/instruments/scpi-source.yaml')}\nwatchdog: none\n`,
      );
      const rig = path.join(folder, 'rig.yaml');
      writeFileSync(
        rig,
        `extends: ${path.join(ROOT, 'config', `${RIG}.yaml`)}\nname: try\ntitle: a rig for a test\nlink:\n  ports:\n` +
          '    - { name: source, baud: 115200, roles: [converter], instrument: map.yaml, pollMs: 50 }\n' +
          '    - name: field\n      baud: 460800\n' +
          '      roles: [meter, loop, isolation, contactor, bleeder, latch, berth, train, raft, supply, stop]\n',
      );
      const ended = await loopwarden(['limits', '--rig', rig]);
      expect(ended).toMatchObject({ code: 2, stdout: '' });
      expect(ended.stderr).toMatch(
        /map\.yaml[^\n]*cannot be used \(1 fault\):\n {2}[^\n]*hardWiredStop: missing/,
      );
    });
  });
}
