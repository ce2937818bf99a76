/** `--instrument-fault source:overload@ramping+2`: read, and refused in words. */
import { InvalidArgumentError } from 'commander';
import { INSTRUMENT_FAULTS, type InstrumentFault } from '../../simulators/peers/peer.js';
import { PHASES } from '../rig/roles.js';

export type PortFault = InstrumentFault & { readonly port: string };

const names = Object.keys(INSTRUMENT_FAULTS) as InstrumentFault['fault'][];

export function instrumentFault(text: string): PortFault {
  const found = /^([a-z0-9-]+):([a-z-]+)@([a-z-]+)(?:\+([\d.]+))?(?:\/([\d.]+))?$/.exec(text);
  const [, port = '', name, at, after, lasts] = found ?? [];
  const fault = names.find((n) => n === name);
  const phase = PHASES.find((p) => p === at);
  if (fault === undefined || phase === undefined)
    throw new InvalidArgumentError(
      `expected port:fault@phase, and +seconds after it and /seconds it lasts where wanted; faults: ${names.join(', ')}`,
    );
  return {
    port,
    fault,
    phase,
    afterS: Number(after ?? 0),
    ...(lasts === undefined ? {} : { durationS: Number(lasts) }),
  };
}
