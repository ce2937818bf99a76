/** The device in C (simulators/reference-device) against the contract, and its parser against everything else. */
import { afterAll } from 'vitest';
import { endAll } from '../cli/process.js';
import { deviceContract } from './device.contract.js';
import { makeSafeContract } from './make-safe.contract.js';
import { ReferenceBench } from './reference-bench.js';

afterAll(endAll);

deviceContract('reference, in C', (options) => new ReferenceBench(options));
makeSafeContract('reference, in C', (options) => new ReferenceBench(options));
