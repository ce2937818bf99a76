/**
 * Everything that runs in real time over terminals, in one file: how much of it runs at once is decided here,
 * because sessions that starve each other of processor time trip, as they must.
 */
import { afterAll, describe, vi } from 'vitest';
import { endAll } from '../cli/process.js';
import { deviceDies } from './device-dies-suite.js';
import { instruments } from './instrument-suite.js';
import { livePages } from './page-suite.js';
import { ports } from './ports-suite.js';
import { proofs } from './prove-suite.js';
import { referenceDeviceSessions } from './reference-device-suite.js';
import { wholeSessions } from './session-suite.js';
import { supervisorStops } from './supervisor-stops-suite.js';

// They wait more than they compute; with more at once they would starve each other on two processors.
vi.setConfig({ maxConcurrency: 6 });
afterAll(endAll);

/** A disk or a processor that stands still for longer than a watchdog trips a session, rightly: tried again then. */
const AGAIN = { retry: 2 };

// By themselves: these use the figures of the shipped rigs.
describe('a session over a pseudo-terminal', AGAIN, wholeSessions);
describe.concurrent('the reference device', AGAIN, referenceDeviceSessions);
describe.concurrent('a device that dies', AGAIN, deviceDies);
describe.concurrent('a supervisor that stops', AGAIN, supervisorStops);
describe.concurrent('live pages', AGAIN, livePages);
describe.concurrent('ports', AGAIN, ports);
describe.concurrent('a proof on a charger', AGAIN, proofs);
describe.concurrent('instruments', AGAIN, instruments);
