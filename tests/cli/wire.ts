/**
 * A serial line that outlives both its ends: two pseudo-terminals joined in the test, so that a device can be
 * killed while the port stays, and the test hears what the device says whatever becomes of the supervisor.
 */
import { openPty } from '../../simulators/pty.js';
import { realClock } from '../../src/host/clock.js';
import { decodeToSupervisor } from '../../src/link/codec.js';
import type { ReportedRoles } from '../../src/link/frames.js';
import { Process, temporaryFolder, until } from './process.js';
import { patientRig } from './rigs.js';

export interface Wire {
  /** The rig of the supervisor: a patient one, see `patientRig`. */
  readonly rig: string;
  /** Path for the device. */
  readonly deviceEnd: string;
  /** Path for the supervisor. */
  readonly supervisorEnd: string;
  /** What the device reported last; null before its first report. */
  readonly last: ReportedRoles | null;
  /** Waits for a report like this. */
  reports(what: string, like: (roles: ReportedRoles) => boolean, withinS?: number): Promise<ReportedRoles>;
  /** Waits until the meter of the device sees current; a run that ends before is a failure that shows why. */
  flows(run: Process, withinS?: number): Promise<void>;
  /** `sim-device` on the device's end. */
  device(args?: readonly string[]): Process;
  /** `run` on the supervisor's end, with a state folder of its own unless one is given. */
  run(args?: readonly string[], state?: string): Process;
  close(): void;
}

/** Bounds what an unterminated line can collect. */
const LONGEST = 4096;

export async function openWire(): Promise<Wire> {
  const rig = patientRig();
  const [far, near] = await Promise.all([openPty(realClock), openPty(realClock)]);
  let last: ReportedRoles | null = null;
  let rest = '';
  far.onData((bytes) => {
    near.write(bytes);
    const lines = (rest + bytes).split('\n');
    rest = (lines.pop() as string).slice(-LONGEST);
    for (const line of lines) {
      const decoded = decodeToSupervisor(line);
      if (decoded.ok && decoded.frame.body.verb === 'report') last = decoded.frame.body.roles;
    }
  });
  near.onData((bytes) => far.write(bytes));
  return {
    rig,
    deviceEnd: far.path,
    supervisorEnd: near.path,
    get last() {
      return last;
    },
    flows: async (run, withinS) => {
      await until('current', () => !run.running || (last !== null && currentFlows(last)), withinS);
      if (!run.running) throw new Error(`ended before any current flowed: ${run.stdout}${run.stderr}`);
    },
    reports: (what, like, withinS) => until(what, () => last !== null && like(last) && last, withinS),
    device: (args = []) => new Process(['sim-device', '--port', far.path, '--rig', 'depot-cable', ...args]),
    run: (args = [], state = temporaryFolder()) =>
      new Process([
        'run',
        ...['--rig', rig, '--port', near.path, '--by', 'tester', '--json', '--state', state, ...args],
      ]),
    close: () => {
      far.close();
      near.close();
    },
  };
}

/** Current flows in the charger, as its meter sees it. */
const currentFlows = ({ meter }: ReportedRoles): boolean => (meter?.currentA ?? 0) > 10;
/** The device holds everything open and dead, whatever anyone else thinks. */
export const madeSafe = ({ device, meter, contactor }: ReportedRoles): boolean =>
  device.latched === 1 &&
  device.madeSafe === 1 &&
  Math.abs(meter?.currentA ?? Number.NaN) < 1 &&
  contactor?.closedP === 0 &&
  contactor.closedN === 0;
/** The device has come to the end of its make-safe sequence. */
export const bleedersOff = ({ device, bleeder }: ReportedRoles): boolean =>
  device.madeSafe === 1 && bleeder?.outputOn === 0 && bleeder.plugOn === 0;
