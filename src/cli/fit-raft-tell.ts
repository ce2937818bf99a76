/** What `fit raft` found, as one JSON object and in words. */
import path from 'node:path';
import type { ChargeRecord } from '../measure/charge-record.js';
import type { FittedRecord, RaftFit } from '../measure/raft-fit.js';
import { activationEnergies, raftPoint, timeConstants, type Uncertain } from '../measure/raft-parameters.js';
import type { Prediction } from '../measure/raft-predict.js';
import type { RaftVerdict } from '../measure/raft-verdict.js';
import { NOTICE } from './notice.js';
import { figure, paint, say, table } from './print.js';
import { stated, withUncertainty } from './recording.js';

/** Temperature of a recording, and who said so. */
export interface Warmth {
  /** As given on the command line, without its folders. */
  readonly file: string;
  readonly cellC: number;
  readonly temperature: 'logged' | 'told' | 'assumed';
}

export interface Fitted {
  readonly fit: RaftFit;
  readonly verdict: RaftVerdict;
  readonly because: string;
  /** In the order of the fit's. */
  readonly recordings: readonly Warmth[];
  readonly prediction: (Prediction & Warmth) | null;
}

/** Points of the state of charge that are listed. */
const SOCS = [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1] as const;
const NONE = Number.NaN;

export function warmthOf(
  file: string,
  { cellC }: ChargeRecord,
  toldC: number | undefined,
  taken: Pick<FittedRecord, 'cellC'>,
): Warmth {
  const name = path.basename(file);
  if (cellC !== undefined) {
    const mean = cellC.reduce((sum, c) => sum + c, 0) / cellC.length;
    return { file: name, cellC: mean, temperature: 'logged' };
  }
  if (toldC !== undefined) return { file: name, cellC: toldC, temperature: 'told' };
  return { file: name, cellC: taken.cellC, temperature: 'assumed' };
}

const fields = (name: string, { value, uncertainty }: Uncertain): Record<string, number | null> => ({
  [name]: stated(value),
  [`${name}Uncertainty`]: stated(uncertainty),
});

export function raftJson(found: Fitted): object {
  const { fit, prediction } = found;
  const { tau1S, tau2S } = timeConstants(fit);
  const energies = activationEnergies(fit);
  const point = (soc: number): Record<string, number | null> => {
    const at = raftPoint(fit, soc);
    return {
      ocvV: stated(at.ocvV),
      ...fields('r0Ohm', at.r0Ohm),
      ...fields('r1Ohm', at.r1Ohm),
      ...fields('r2Ohm', at.r2Ohm),
      ...fields('hysteresisV', at.hysteresisV),
    };
  };
  return {
    verdict: found.verdict,
    because: found.because,
    rows: fit.rows,
    capacityAh: fit.shape.capacityAh,
    socStart: fit.recordings[0]!.socStart,
    // At half charge and 25 °C; `overSoc` has the rest.
    ...point(0.5),
    ...fields('tau1S', tau1S),
    ...fields('tau2S', tau2S),
    ...fields('r0ActivationJPerMol', energies.r0),
    ...fields('r1ActivationJPerMol', energies.r1),
    ...fields('r2ActivationJPerMol', energies.r2),
    activationFitted: fit.activationFitted,
    overSoc: SOCS.map((soc) => ({ soc, ...point(soc) })),
    recordings: found.recordings.map((warmth, j) => {
      const { socStart, rows, residuals } = fit.recordings[j]!;
      const { rmsV, chargeRmsV } = residuals;
      return { ...warmth, socStart, rows, fitRmsV: stated(rmsV), fitChargeRmsV: stated(chargeRmsV) };
    }),
    fitRmsV: stated(fit.fitRmsV),
    fitChargeRmsV: stated(fit.fitChargeRmsV),
    ...(prediction === null ? {} : predictionJson(prediction)),
  };
}

const predictionJson = (prediction: Prediction & Warmth): object => ({
  predictSocStart: prediction.socStart,
  predictCellC: prediction.cellC,
  predictTemperature: prediction.temperature,
  predictionRmsV: stated(prediction.residuals.rmsV),
  predictionChargeRmsV: stated(prediction.residuals.chargeRmsV),
  ccTimeS: stated(prediction.own?.ccTimeS ?? NONE),
  measuredCcTimeS: stated(prediction.measured?.ccTimeS ?? NONE),
  chargeAh: stated(prediction.own?.chargeAh ?? NONE),
  measuredChargeAh: stated(prediction.measured?.chargeAh ?? NONE),
  chargeEnds: prediction.own?.ends ?? null,
});

export function tellRaft(found: Fitted): void {
  const { fit, prediction } = found;
  const milli = (u: Uncertain): string => withUncertainty(u.value * 1000, u.uncertainty * 1000);
  const kilo = (u: Uncertain): string => `${withUncertainty(u.value / 1000, u.uncertainty / 1000)} kJ/mol`;
  const mv = (volts: number): string => `${figure(volts * 1000, 3)} mV`;
  const { tau1S, tau2S } = timeConstants(fit);
  const energies = activationEnergies(fit);
  say(NOTICE);
  say();
  say(`${paint('bold', found.verdict)}: ${found.because}`);
  say();
  say('One cell at 25 °C, with 95 % uncertainties:');
  say(
    table(
      ['charge', 'open circuit, V', 'R0, mΩ', 'R1, mΩ', 'R2, mΩ', 'hysteresis, mV'],
      SOCS.map((soc) => {
        const at = raftPoint(fit, soc);
        const rest = [at.r0Ohm, at.r1Ohm, at.r2Ohm, at.hysteresisV].map(milli);
        return [`${Math.round(soc * 100)} %`, at.ocvV.toFixed(4), ...rest];
      }),
      [0, 1, 2, 3, 4, 5],
    ),
  );
  say();
  say(
    table(
      ['', ''],
      [
        ['capacity', `${figure(fit.shape.capacityAh)} Ah`],
        ['time constants', `${figure(tau1S.value, 3)} s and ${figure(tau2S.value, 3)} s`],
        [
          `activation energy, ${fit.activationFitted ? 'found' : 'not found but typical'}`,
          `R0 ${kilo(energies.r0)}, R1 ${kilo(energies.r1)}, R2 ${kilo(energies.r2)}`,
        ],
        ['fit, all rows', mv(fit.fitRmsV)],
        ['fit, charging above 15 %', mv(fit.fitChargeRmsV)],
        ...(prediction === null ? [] : predictionRows(prediction)),
      ],
    ),
  );
  say();
  say(
    table(
      ['recording', 'charge at the first row', 'temperature', 'off, r.m.s.'],
      [
        ...found.recordings.map((warmth, j) => {
          const { socStart, residuals } = fit.recordings[j]!;
          return [warmth.file, `${figure(socStart * 100)} %`, warmthText(warmth), mv(residuals.rmsV)];
        }),
        ...(prediction === null
          ? []
          : [
              [
                `${prediction.file}, foretold`,
                `${figure(prediction.socStart * 100)} %`,
                warmthText(prediction),
                mv(prediction.residuals.rmsV),
              ],
            ]),
      ],
    ),
  );
  const unknown = found.recordings.filter((warmth) => warmth.temperature === 'assumed');
  if (unknown.length > 0 || prediction?.temperature === 'assumed') say();
  if (unknown.length > 0) say(missing(unknown, '--cell-c'));
  if (prediction?.temperature === 'assumed') say(missing([prediction], '--predict-cell-c'));
}

const missing = (of: readonly Warmth[], option: string): string =>
  `No temperature was logged in ${of.map((w) => w.file).join(', ')}: taken as ${figure(of[0]!.cellC)} °C; tell it by ` +
  `${option}.`;

const warmthText = ({ cellC, temperature }: Warmth): string => `${figure(cellC, 3)} °C, ${temperature}`;

function predictionRows({ residuals, own, measured }: Prediction): string[][] {
  const beside = (what: string, foretold: string, recorded: number, unit: string): string[] => [
    what,
    `${foretold}, recorded ${figure(recorded)} ${unit}`,
  ];
  const ccTimeS = own?.ccTimeS ?? NONE;
  const charge = own === null || own.ends ? `${figure(own?.chargeAh ?? NONE)} Ah` : 'does not end';
  return [
    ['foretold, all rows', `${figure(residuals.rmsV * 1000, 3)} mV`],
    ['foretold, charging above 15 %', `${figure(residuals.chargeRmsV * 1000, 3)} mV`],
    beside('constant current for', `${figure(ccTimeS)} s`, measured?.ccTimeS ?? NONE, 's'),
    beside('charge', charge, measured?.chargeAh ?? NONE, 'Ah'),
  ];
}
