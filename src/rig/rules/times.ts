/** Whether each phase can be done in the time it is given. A phase that is too short trips a sound train. */
import { MAKE_SAFE } from '../make-safe.js';
import type { Rig } from '../schema.js';
import { packV } from '../volts.js';
import { num, type Rule } from './rule.js';

/** Least time of each phase, s, with what it is made of. */
function leastTimes(rig: Rig): readonly (readonly [key: keyof Rig['times'], leastS: number, made: string])[] {
  const { ramp, connection, contactors, bleeder, isolation, converter } = rig;
  const currentA = Math.min(connection.ratedCurrentA, converter.maxCurrentA);
  const highV = packV(rig, rig.battery.raft.ceilingCellV);
  const makeSafeMs =
    MAKE_SAFE.openPLatestMs +
    MAKE_SAFE.openNAfterPMs +
    MAKE_SAFE.openTrainAfterNMs +
    MAKE_SAFE.bleedPlugAfterTrainMs +
    contactors.openMs;
  return [
    ['isolationS', 2 * isolation.checkMaxS, 'charger and cable side, isolation.checkMaxS each'],
    ['joiningS', isolation.checkMaxS, 'isolation.checkMaxS for the joined network'],
    converter.matchesVoltage
      ? ['matchingS', highV / converter.voltageSlopeVPerS, 'full voltage ÷ converter.voltageSlopeVPerS']
      : ['matchingS', rig.precharge?.maxS ?? 0, 'precharge.maxS'],
    ['closingS', (2 * contactors.closeMs) / 1000, 'twice contactors.closeMs'],
    [
      'rampingS',
      currentA / ramp.upAPerS + ramp.holdPointS,
      'full current ÷ ramp.upAPerS, and ramp.holdPointS',
    ],
    ['rampingDownS', currentA / ramp.downAPerS, 'full current ÷ ramp.downAPerS'],
    ['openingS', (2 * contactors.openMs) / 1000, 'twice contactors.openMs'],
    ['bleedingS', bleeder.deadWithinS, 'bleeder.deadWithinS'],
    [
      'makingSafeS',
      makeSafeMs / 1000 + bleeder.deadWithinS,
      'the make-safe sequence and bleeder.deadWithinS',
    ],
  ];
}

const phasesFit: Rule = (rig, fault) => {
  for (const [key, leastS, made] of leastTimes(rig)) {
    const givenS = rig.times[key];
    if (typeof givenS !== 'number' || givenS >= leastS) continue;
    fault(`times.${key}`, `${num(givenS)} s, at least ${num(leastS)} s are needed (${made})`);
  }
};

export const TIME_RULES: readonly Rule[] = [phasesFit];
