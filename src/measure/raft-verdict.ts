/** What a fit and its prediction are worth. */
import type { RaftFit } from './raft-fit.js';
import { raftPoint } from './raft-parameters.js';
import type { Prediction } from './raft-predict.js';

/**
 * good: the model follows the charge, and where another recording was predicted, that one too; poor: it does not;
 * unclear: the recording shows too little to tell resistance from open-circuit volts, and nothing was predicted.
 */
export const RAFT_VERDICTS = ['good', 'poor', 'unclear'] as const;
export type RaftVerdict = (typeof RAFT_VERDICTS)[number];

/** r.m.s. while charging above 15 % state of charge: 0.5 % of 4.2 V. */
export const CHARGE_RMS_V = 0.021;
export const CC_TIME_SHARE = 0.04;
export const CHARGE_SHARE = 0.02;
/** R0 at half charge less certain than this share of itself is not known. */
const KNOWN_SHARE = 0.5;

export function judgeRaft(
  fit: RaftFit,
  prediction: Prediction | null,
): { readonly verdict: RaftVerdict; readonly because: string } {
  const mv = (volts: number): string => `${(volts * 1000).toFixed(1)} mV`;
  const poor: string[] = [];
  const holds = (what: string, rmsV: number): void => {
    if (rmsV > CHARGE_RMS_V) poor.push(`${what} is ${mv(rmsV)} r.m.s. off, ${mv(CHARGE_RMS_V)} permitted`);
  };
  // A recording without charge above 15 % is judged by all its rows.
  holds('the fit', Number.isFinite(fit.fitChargeRmsV) ? fit.fitChargeRmsV : fit.fitRmsV);
  if (prediction !== null) {
    const { residuals, measured, own } = prediction;
    holds('the prediction', Number.isFinite(residuals.chargeRmsV) ? residuals.chargeRmsV : residuals.rmsV);
    if (measured !== null && own !== null) {
      const near = (what: string, foretold: number, recorded: number, share: number): void => {
        const off = foretold / recorded - 1;
        if (Math.abs(off) <= share) return;
        poor.push(`${what} is off by ${(off * 100).toFixed(1)} %, ${(share * 100).toFixed(0)} % permitted`);
      };
      if (Number.isNaN(own.ccTimeS)) {
        poor.push(
          `the charge foretold does not end: ${measured.limitV.toFixed(3)} V are not reached in ` +
            `${own.lastS.toFixed(0)} s, recorded after ${measured.ccTimeS.toFixed(0)} s`,
        );
      } else {
        near('the constant-current time', own.ccTimeS, measured.ccTimeS, CC_TIME_SHARE);
        if (own.ends) near('the charge', own.chargeAh, measured.chargeAh, CHARGE_SHARE);
        else {
          poor.push(
            `the charge foretold does not end: after ${own.lastS.toFixed(0)} s it still takes ` +
              `${own.lastA.toFixed(3)} A, recorded down to ${measured.endA.toFixed(3)} A`,
          );
        }
      }
    }
  }
  if (poor.length > 0) return { verdict: 'poor', because: poor.join('; ') };
  if (prediction !== null)
    return { verdict: 'good', because: 'it foretells a recording it was not fitted to' };
  const { r0Ohm } = raftPoint(fit, 0.5);
  if (!(r0Ohm.uncertainty <= KNOWN_SHARE * r0Ohm.value)) {
    return {
      verdict: 'unclear',
      because: 'the recording has too few steps and rests to tell resistance from open-circuit volts',
    };
  }
  return { verdict: 'good', because: 'it follows the recording; only another one can prove it' };
}
