/**
 * Holds the audit of a simulated session's journal against what the scenario declares and the bench knows. Pure.
 */
import type { Scenario } from '../../simulators/scenario.js';
import type { TruthSummary } from '../../simulators/truth.js';
import type { AuditResult } from '../audit/audit.js';
import type { Compared } from './truth-witness.js';

/** Noise of the instruments (three sigma, simulators/sensors.ts) and half a count of the line protocol. */
const noiseA = (trueA: number): number => 0.1 + 1e-4 * Math.abs(trueA) + 0.05;
const NOISE_V = 0.15;
/** Trapezoids between reports against steps of a millisecond. */
const ENERGY_SHARE = 0.01;
const ENERGY_FLOOR_KWH = 0.02;
/** With these an instrument itself lies, or the line was not heard: its extremes are not the bench's. */
const INSTRUMENT_FAULTS = ['meter', 'sensor', 'voltmeter', 'link', 'port', 'reading'];

/**
 * Everything that is not as it must be, in words.
 * @param compared its margins and extremes, held against the bench at the instants they were read
 * @param cut the disk took no more before the end
 */
export function auditDeviations(
  expect: Scenario['expect'],
  audit: AuditResult,
  truth: TruthSummary,
  compared: Compared,
  cut: boolean,
): string[] {
  const wrong = compared.wrong.map((what) => `AUDIT: ${what}`);
  const hold = (ok: boolean, what: string): void => {
    if (!ok) wrong.push(`AUDIT: ${what}`);
  };
  hold(audit.intact, `the record is not intact: ${audit.damage.join('; ')}`);
  hold(
    audit.diverged === false,
    `decisions diverge: ${JSON.stringify(audit.divergence)} ${audit.notReplayed}`,
  );
  hold(audit.row === (cut ? 'unfinished' : 'clean'), `found as ${audit.row}`);
  if (cut) return wrong;
  hold(audit.invariantsBroken.length === 0, `broken: ${audit.invariantsBroken.join(', ')}`);
  const { code } = expect;
  hold(
    code === undefined || audit.firstOut?.code === code,
    `first out ${audit.firstOut?.code}, declared ${code}`,
  );
  return [...wrong, ...fromTruth(audit, truth)];
}

/** Extremes as reported, the device's own minima and maxima included, are those of the bench. */
function fromTruth({ extremes, energy, events }: AuditResult, truth: TruthSummary): string[] {
  const wrong: string[] = [];
  const lies = events.some(
    ({ kind, text }) => kind !== 'phase' && INSTRUMENT_FAULTS.some((word) => text.includes(word)),
  );
  const of = (field: string) => extremes.find((e) => e.field === field);
  const near = (what: string, read: number | undefined, trueValue: number, tolerance: number): void => {
    if (read !== undefined && !(Math.abs(read - trueValue) <= tolerance))
      wrong.push(`AUDIT: ${what} ${read.toFixed(3)} on the record, ${trueValue.toFixed(3)} on the bench`);
  };
  if (!lies) {
    near('greatest current, A', of('meter.currentMaxA')?.most, truth.peakA, noiseA(truth.peakA));
    near('least current, A', of('meter.currentMinA')?.least, truth.leastA, noiseA(truth.leastA));
    near('greatest output voltage, V', of('meter.outputMaxV')?.most, truth.peakOutputV, NOISE_V);
  }
  const allowed = Math.max(ENERGY_FLOOR_KWH, ENERGY_SHARE * truth.energyAtRaftTerminalsKwh);
  if (!lies && energy !== null)
    near('energy to the battery, kWh', energy.toBatteryKwh, truth.energyAtRaftTerminalsKwh, allowed);
  return wrong;
}
