/**
 * A proof on its day: whether the calibration of the equipment is in date, and what else stands against the whole,
 * whatever its steps came to. A measured time is worth what the instrument is that measured it.
 */
import { dayOf, dayText, isDay, monthsBefore } from '../host/calendar.js';
import { InputError } from '../host/input-error.js';
import { WEAKNESSES } from './charger.js';
import type { Equipment, Proof } from './proof.js';
import { worstOf } from './verdict.js';

export type Calibration = 'in-date' | 'expired' | 'in-the-future' | 'impossible';

/** Common practice, no source: instruments of this kind are calibrated once a year. */
export const CALIBRATION_MONTHS = 12;

export interface DatedEquipment extends Equipment {
  readonly calibration: Calibration;
}

/** What a certificate is made of. */
export interface DatedProof extends Omit<Proof, 'equipment'> {
  /** yyyymmdd, UTC. */
  readonly madeOn: number;
  readonly calibrationMonths: number;
  readonly equipment: readonly DatedEquipment[];
  /** Each keeps the whole from having passed, in words. */
  readonly doubts: readonly string[];
}

/** Nothing is certified of a real charger then. */
export const isSimulated = ({ charger }: { readonly charger: string }): boolean =>
  charger === 'simulated' || WEAKNESSES[charger] !== undefined;

export function calibrationOf(calibratedOn: number, madeOn: number, months: number): Calibration {
  if (!isDay(calibratedOn)) return 'impossible';
  if (calibratedOn > madeOn) return 'in-the-future';
  return calibratedOn < monthsBefore(madeOn, months) ? 'expired' : 'in-date';
}

/** Asked before any run is made. @throws InputError naming every device without a date of its calibration */
export function refuseUndated(
  devices: readonly Pick<Equipment, 'model' | 'serial' | 'calibratedOn'>[],
): void {
  const undated = devices.filter(({ calibratedOn }) => !isDay(calibratedOn));
  if (undated.length === 0) return;
  const told = undated.map((d) => `${d.model}, serial ${d.serial}, says ${d.calibratedOn}`).join('; ');
  throw new InputError(
    `no run was made: ${told} where the day of the last calibration belongs, expected one as yyyymmdd; ` +
      'figures of equipment without it prove nothing',
  );
}

const nameOf = ({ port, model, serial }: Equipment): string => `${model}, serial ${serial}, on port ${port}`;

function doubtOf(equipment: DatedEquipment, months: number, simulated: boolean): string[] {
  const { calibration, calibratedOn } = equipment;
  const on = dayText(calibratedOn);
  if (calibration === 'expired')
    return [`calibration EXPIRED: ${nameOf(equipment)}, calibrated on ${on}, more than ${months} months ago`];
  if (calibration === 'impossible')
    return [`no day of calibration: ${nameOf(equipment)} says ${calibratedOn}, which is no day`];
  if (calibration === 'in-the-future' && !simulated)
    return [`calibrated in the future: ${nameOf(equipment)} says ${on}; one of the two clocks is wrong`];
  return [];
}

/** Which ports were not the same device in all runs. */
function exchanged(equipment: readonly Equipment[]): string[] {
  const ports = new Set(equipment.map((e) => e.port));
  return [...ports].flatMap((port) => {
    const found = equipment.filter((e) => e.port === port);
    return found.length === 1
      ? []
      : [
          `equipment was exchanged or changed during the proof: on port ${port} ` +
            found
              .map(
                (e) =>
                  `${e.model}, serial ${e.serial}, firmware ${e.firmware}, calibrated ${dayText(e.calibratedOn)} (${e.runs} run${e.runs === 1 ? '' : 's'})`,
              )
              .join(', then '),
        ];
  });
}

/** @param wallMs when it is made */
export function dated(proof: Proof, wallMs: number, months: number): DatedProof {
  const madeOn = dayOf(wallMs);
  const simulated = isSimulated(proof.header);
  const equipment = proof.equipment.map((e) => ({
    ...e,
    calibration: calibrationOf(e.calibratedOn, madeOn, months),
  }));
  const { missing, header } = proof;
  const doubts = [
    ...(missing > 0 ? [`the proof is NOT COMPLETE: ${missing} of ${header.cases} runs were not made`] : []),
    ...(equipment.length === 0 ? ['no equipment told who it is'] : []),
    ...exchanged(equipment),
    ...equipment.flatMap((e) => doubtOf(e, months, simulated)),
  ];
  const verdict = worstOf([proof.verdict, doubts.length > 0 ? 'inconclusive' : 'not-applicable']);
  return { ...proof, madeOn, calibrationMonths: months, equipment, doubts, verdict };
}
