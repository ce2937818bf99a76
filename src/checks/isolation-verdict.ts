/**
 * What a measured isolation means against the rig's limits. A figure at the limit passes only if it is above it
 * by its uncertainty; the limit is ohms per volt times the working voltage, as the live check has it.
 */
import type { Rig } from '../rig/schema.js';
import { type Estimate, scaled } from './estimate.js';
import type { IsolationCurve } from './isolation-curve.js';

/**
 * ok: proven above the warning limit. warn: proven above the limit. low: below or at the limit. stored-charge:
 * the capacitances hold more than permitted. unclear: the record does not prove which.
 */
export const ISOLATION_VERDICTS = ['ok', 'warn', 'low', 'stored-charge', 'unclear'] as const;
export type IsolationVerdict = (typeof ISOLATION_VERDICTS)[number];

export interface IsolationJudgement {
  readonly verdict: IsolationVerdict;
  /** Lower pole or parallel, as the rig says. */
  readonly figureOhm: Estimate;
  readonly requiredOhm: number;
  readonly warnOhm: number;
  /** At the working voltage, or the recorded one where that was higher. */
  readonly storedAtWorkingJ: Estimate;
  readonly storedAtWorkingC: Estimate;
  readonly because: string;
}

/** Live parts that hold no more need no discharge: IEC 60204-1 6.2.4, published. */
export const EXEMPT_C = 60e-6;

/** A curve this far from its record, as a share of the pack's volts, is of another network. */
const MISFIT_SHARE = 0.03;

export function judgeIsolation(curve: IsolationCurve, rig: Rig['isolation']): IsolationJudgement {
  const figureOhm = rig.figure === 'parallel' ? curve.parallelOhm : curve.lowerOhm;
  const workingV = Math.max(rig.workingVoltageV, Math.abs(curve.voltageV));
  const requiredOhm = rig.minOhmPerVolt * workingV;
  const warnOhm = rig.warnOhmPerVolt * workingV;
  const storedAtWorkingJ = scaled(curve.totalFarad, 0.5 * workingV * workingV);
  const storedAtWorkingC = scaled(curve.totalFarad, workingV);
  const { verdict, because } = decide();
  return { verdict, because, figureOhm, requiredOhm, warnOhm, storedAtWorkingJ, storedAtWorkingC };

  function decide(): { verdict: IsolationVerdict; because: string } {
    const fits = curve.fitRmsV <= MISFIT_SHARE * Math.abs(curve.voltageV);
    if (!fits)
      return { verdict: 'unclear', because: 'no network of two leaks and two capacitances reads like this' };
    if (!(figureOhm.atLeast >= requiredOhm)) {
      if (figureOhm.value <= requiredOhm) return { verdict: 'low', because: 'it is not above the limit' };
      return { verdict: 'unclear', because: 'it is not above the limit by its uncertainty' };
    }
    if (storedAtWorkingJ.value > rig.maxStoredJ)
      return { verdict: 'stored-charge', because: 'the capacitances hold more energy than permitted' };
    // A record without a curve says nothing about capacitance; that is stated, not held against the leaks.
    if (Number.isFinite(storedAtWorkingJ.value) && !(storedAtWorkingJ.atMost <= rig.maxStoredJ))
      return { verdict: 'unclear', because: 'the stored energy is not below its limit by its uncertainty' };
    if (!(figureOhm.atLeast >= warnOhm))
      return { verdict: 'warn', because: 'it is above the limit, not above the warning limit' };
    return { verdict: 'ok', because: 'it is above the warning limit by its uncertainty' };
  }
}
