/** Current limits that always stand: what converter and connection are rated for. No codes, only names. */
import type { Check } from './check.js';

export const standingLimits: Check<null> = {
  name: 'standing-limits',
  codes: [],
  initial: () => null,
  run(_, seen, rig) {
    const outputV = seen.meter?.value.outputV ?? Number.NaN;
    // Unreadable volts: the power bound is taken at the highest voltage the converter knows.
    const atV = outputV > rig.converter.minVoltageV ? outputV : rig.converter.maxVoltageV;
    return {
      state: null,
      findings: [],
      limits: [
        { limit: 'connection', currentA: rig.connection.ratedCurrentA },
        { limit: 'converter', currentA: Math.min(rig.converter.maxCurrentA, rig.converter.maxPowerW / atV) },
      ],
    };
  },
};
