/** Rig and scenario files written for a test. */
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { loadRig } from '../../src/rig/load.js';
import { ROOT, temporaryFolder } from './process.js';

export const PATIENT = 'patient';

/**
 * A shipped rig that grants the link, the answers and the contactors more time. A machine with more to do than
 * processors is late, and a supervisor with the shipped figures trips on that, rightly; tests that are about
 * something else use this one. The simulated device keeps the shipped rig: it is quicker than it need be.
 */
export function patientRig(base = 'depot-cable'): string {
  const file = path.join(temporaryFolder(), 'patient.yaml');
  const source = 'invented for tests';
  writeFileSync(
    file,
    `extends: ${path.join(ROOT, 'config', `${base}.yaml`)}
name: ${PATIENT}
title: A rig that waits for a busy machine
link:
  deviceWatchdogMs: { value: 700, source: ${source} }
  silenceMs: { value: 1000, source: ${source} }
  answerMs: { value: 1400, source: ${source} }
  fastReadingMs: { value: 1000, source: ${source} }
tripTimes:
  silenceMs: { value: 2000, source: ${source} }
converter:
  trackingSettleMs: { value: 1000, source: ${source} }
contactors:
  closeMs: { value: 500, source: ${source} }
`,
  );
  return file;
}

/** A scenario with at most one fault, as YAML flow: `{ fault: …, phase: … }`. Little is asked, so it is short. */
export function scenarioFile(rig: string, fault?: string): string {
  const file = path.join(temporaryFolder(), 'scenario.yaml');
  writeFileSync(
    file,
    `name: written-for-a-test
title: "Written for a test"
rig: ${rig}
seed: 7
start: { soc: 0.6, cellC: 22, ambientC: 20 }
wish: { targetEnergyKwh: 0.05 }
inject: [${fault ?? ''}]
expect: { outcome: ${fault === undefined ? 'released, exit: 0' : 'tripped, exit: 3'} }
`,
  );
  return file;
}

/** A shipped command map that gives its instrument more time, in a folder of its own unless one is given. */
export function patientMap(name: string, folder = temporaryFolder()): string {
  const file = path.join(folder, `${name}.yaml`);
  const base = path.join(ROOT, 'config', 'instruments', `${name}.yaml`);
  const hasWatchdog = /^watchdog:/m.test(readFileSync(base, 'utf8'));
  const watchdog = hasWatchdog ? 'watchdog:\n  timeMs: { value: 1500, source: test }\n' : '';
  writeFileSync(file, `extends: ${base}\ntiming: { answerMs: 200 }\n${watchdog}`);
  return file;
}

/** The same for a rig with instruments: each gets more time to answer, and its own watchdog waits longer. */
export function patientInstrumentRig(base: string): string {
  const folder = temporaryFolder();
  const { rig, instruments } = loadRig(base);
  const ports = rig.link.ports.map(({ name, baud, roles, pollMs }) => {
    const map = instruments.get(name);
    const instrument =
      map === undefined ? {} : { pollMs, instrument: path.basename(patientMap(map.name, folder)) };
    return { name, baud, roles, ...instrument };
  });
  const file = path.join(folder, 'patient-instruments.yaml');
  const text = readFileSync(patientRig(base), 'utf8').replace(
    '\nlink:\n',
    `\nlink:\n  ports: ${JSON.stringify(ports)}\n`,
  );
  writeFileSync(file, text);
  return file;
}
