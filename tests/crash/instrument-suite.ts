/** Instruments in another process, each on its own pseudo-terminal, with the shipped command maps. */
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { openPty } from '../../simulators/pty.js';
import { realClock } from '../../src/host/clock.js';
import { SerialLink } from '../../src/link/serial.js';
import { loopwarden, outcomeOf, Process, ptyDevice, ROOT, temporaryFolder } from '../cli/process.js';
import { patientInstrumentRig } from '../cli/rigs.js';
import { ofKind, readJournal } from './read-journal.js';

const TIMES = { timeout: 90_000 };
const RIG = 'depot-instruments';
const LITTLE = ['--target-energy-kwh', '0.02'];

const portsOf = (ports: Record<string, string>): string[] =>
  Object.entries(ports).flatMap(([name, file]) => ['--port', `${name}=${file}`]);
const run = (ports: Record<string, string>, rig: string, log = path.join(temporaryFolder(), 'log')) =>
  new Process([
    ...['run', '--rig', rig, '--by', 'tester', '--state', temporaryFolder(), '--json', '--log', log],
    ...LITTLE,
    ...portsOf(ports),
  ]);

export function instruments(): void {
  it.concurrent.each([
    ['depot-instruments', ['source', 'meter', 'field'], ['DC-SOURCE-850-320', 'DC-METER-9', 'lw-sim']],
    ['depot-module', ['module', 'field'], ['PM-850-320', 'lw-sim']],
  ])('%s: released', TIMES, async (name, names, models) => {
    const { ports } = await ptyDevice(['--rig', name]);
    expect(Object.keys(ports)).toEqual(names);
    const ended = await run(ports, patientInstrumentRig(name)).end();
    expect(ended).toMatchObject({ code: 0, stderr: '' });
    const outcome = outcomeOf(ended);
    expect(outcome).toMatchObject({
      outcome: 'released',
      endReason: 'target',
      endState: { provenDead: true, polesProvenOpen: true, outputDead: true, plugDead: true },
    });
    // What stands behind the ports is in the record as it says of itself.
    const { lines } = readJournal(outcome.journal);
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
      const ended = await run(ports, patientInstrumentRig(name)).end();
      expect(ended).toMatchObject({ code, stderr: '' });
      const { trip } = outcomeOf(ended);
      // A source that is gone has switched itself off: the current may tell of it before the silence does.
      const truthful = port === 'meter' ? ['link-silent'] : ['link-silent', 'meter-disagrees'];
      expect(truthful).toContain(trip?.code);
      expect(trip?.phase).toBe('ramping');
    },
  );

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
