/** `loopwarden fit raft`: an equivalent circuit from a recorded charge, held against another one. */
import path from 'node:path';
import type { Command } from 'commander';
import { placeError, writeDurably } from '../host/durable-file.js';
import { realFiles } from '../host/files.js';
import { raftBlock } from '../measure/raft-block.js';
import { fitRaft, type RaftFit, residualsOf } from '../measure/raft-fit.js';
import { raftPoint, timeConstants, type Uncertain } from '../measure/raft-parameters.js';
import { type Prediction, predictRaft } from '../measure/raft-predict.js';
import { judgeRaft, RAFT_VERDICTS, type RaftVerdict } from '../measure/raft-verdict.js';
import { loadRig } from '../rig/load.js';
import { loadCharge, loadOcv } from './fit-files.js';
import { NOTICE } from './notice.js';
import { aboveZero, celsius, count, share } from './numbers.js';
import { writePlot } from './plot.js';
import { figure, paint, say, table } from './print.js';
import { oneOf, requireVerdict, stated, withUncertainty } from './recording.js';

interface Options {
  readonly in: string;
  readonly ocv?: string;
  readonly predict?: string;
  readonly capacityAh?: number;
  readonly socStart?: number;
  readonly predictSocStart?: number;
  readonly cellC?: number;
  readonly predictCellC?: number;
  readonly seriesCells: number;
  readonly parallelCells: number;
  readonly json?: boolean;
  readonly out?: string;
  readonly rig?: string;
  readonly require?: string;
  readonly plot?: string;
}

/** What no recording of volts and amps tells, when the rig named does not either: a cell of 70 g, air-cooled. */
const HEAT = { heatCapacityJPerK: 73, thermalResistanceKPerW: 6 } as const;
/** Points of the state of charge that are listed. */
const SOCS = [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1] as const;

export function addFitRaft(fit: Command): void {
  fit
    .command('raft')
    .description('open-circuit volts, R0 and two R-C pairs over the state of charge, from a recorded charge')
    .requiredOption(
      '--in <file>',
      'CSV with time_s, current_a (charging positive), voltage_v; a cell’s temperature (…_degc) if logged',
    )
    .option('--ocv <file>', 'measured open-circuit volts: CSV with soc_percent, ocv_mean_v')
    .option('--predict <file>', 'another recording, to be foretold from its current')
    .option('--capacity-ah <Ah>', 'else from the recording', aboveZero('ampere hours'))
    .option('--soc-start <share>', 'at the first row, 0 to 1; else from the recording', share)
    .option('--predict-soc-start <share>', 'the same of the other recording', share)
    .option('--cell-c <degC>', 'temperature where none was logged (25)', celsius)
    .option('--predict-cell-c <degC>', 'the same of the other recording', celsius)
    .option('--series-cells <n>', 'cells in series that were recorded together', count, 1)
    .option('--parallel-cells <n>', 'strings in parallel that were recorded together', count, 1)
    .option('--json', 'one JSON object')
    .option('--out <yaml>', 'write the cell as a raft block for a rig file')
    .option('--rig <file>', 'lay that block over this rig, so that the file can be used at once')
    .option(
      '--require <verdict>',
      `exit 7 on any verdict but this: ${RAFT_VERDICTS.join(', ')}`,
      oneOf(RAFT_VERDICTS),
    )
    .option('--plot <svg>', 'draw recorded and computed volts into this file')
    .action(run);
}

async function run(options: Options): Promise<void> {
  const together = {
    series: Math.max(1, options.seriesCells),
    parallel: Math.max(1, options.parallelCells),
  };
  const record = loadCharge(options.in, together);
  const ocv = options.ocv === undefined ? undefined : loadOcv(options.ocv);
  const other = options.predict === undefined ? null : loadCharge(options.predict, together);
  const { capacityAh, socStart, cellC, predictSocStart, predictCellC } = options;
  const fit = fitRaft(record, {
    ...(capacityAh === undefined ? {} : { capacityAh: capacityAh / together.parallel }),
    ...(socStart === undefined ? {} : { socStart }),
    ...(ocv === undefined ? {} : { ocv }),
    ...(cellC === undefined ? {} : { cellC }),
  });
  const prediction =
    other === null
      ? null
      : predictRaft(fit, other, {
          ...(predictSocStart === undefined ? {} : { socStart: predictSocStart }),
          ...(predictCellC === undefined ? {} : { cellC: predictCellC }),
        });
  const { verdict, because } = judgeRaft(fit, prediction);
  if (options.json) say(JSON.stringify(asJson(fit, prediction, verdict, because)));
  else tell(fit, prediction, verdict, because);
  if (options.out !== undefined) writeBlock(fit, options.out, options);
  if (options.plot !== undefined) {
    const drawn = other ?? record;
    const computed =
      prediction?.residuals ?? residualsOf(record, fit.shape, fit.solution.p, fit.socStart, fit.cellC);
    await writePlot(options.plot, {
      title: `Raft: ${verdict}`,
      subtitle: because,
      xTitle: 'time, s',
      yTitle: 'volts of one cell, V',
      series: [
        { name: 'recorded', x: drawn.timeS, y: drawn.voltageV, mark: 'points' },
        {
          name: prediction === null ? 'fitted' : 'foretold',
          x: drawn.timeS,
          y: computed.computedV,
          mark: 'line',
        },
      ],
    });
  }
  requireVerdict(verdict, options.require);
}

const fields = (name: string, { value, uncertainty }: Uncertain): Record<string, number | null> => ({
  [name]: stated(value),
  [`${name}Uncertainty`]: stated(uncertainty),
});

function asJson(fit: RaftFit, prediction: Prediction | null, verdict: RaftVerdict, because: string): object {
  const { tau1S, tau2S } = timeConstants(fit);
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
    verdict,
    because,
    rows: fit.rows,
    capacityAh: fit.shape.capacityAh,
    socStart: fit.socStart,
    // At half charge and 25 °C; `overSoc` has the rest.
    ...point(0.5),
    ...fields('tau1S', tau1S),
    ...fields('tau2S', tau2S),
    overSoc: SOCS.map((soc) => ({ soc, ...point(soc) })),
    fitRmsV: stated(fit.fitRmsV),
    fitChargeRmsV: stated(fit.fitChargeRmsV),
    ...(prediction === null
      ? {}
      : {
          predictSocStart: prediction.socStart,
          predictionRmsV: stated(prediction.residuals.rmsV),
          predictionChargeRmsV: stated(prediction.residuals.chargeRmsV),
          ccTimeS: stated(prediction.ccTimeS),
          measuredCcTimeS: stated(prediction.measured?.ccTimeS ?? Number.NaN),
          chargeAh: stated(prediction.chargeAh),
          measuredChargeAh: stated(prediction.measured?.chargeAh ?? Number.NaN),
        }),
  };
}

function tell(fit: RaftFit, prediction: Prediction | null, verdict: RaftVerdict, because: string): void {
  const milli = (u: Uncertain): string => withUncertainty(u.value * 1000, u.uncertainty * 1000);
  const { tau1S, tau2S } = timeConstants(fit);
  say(NOTICE);
  say();
  say(`${paint('bold', verdict)}: ${because}`);
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
  const mv = (volts: number): string => `${figure(volts * 1000, 3)} mV`;
  const own = (what: string, ours: number, measured: number, unit: string): string[] => [
    what,
    `${figure(ours)} ${unit}, recorded ${figure(measured)} ${unit}`,
  ];
  say();
  say(
    table(
      ['', ''],
      [
        ['capacity', `${figure(fit.shape.capacityAh)} Ah`],
        ['charge at the first row', `${figure(fit.socStart * 100)} %`],
        ['time constants', `${figure(tau1S.value, 3)} s and ${figure(tau2S.value, 3)} s`],
        ['fit, all rows', mv(fit.fitRmsV)],
        ['fit, charging above 15 %', mv(fit.fitChargeRmsV)],
        ...(prediction === null
          ? []
          : [
              ['foretold, all rows', mv(prediction.residuals.rmsV)],
              ['foretold, charging above 15 %', mv(prediction.residuals.chargeRmsV)],
              own(
                'constant current for',
                prediction.ccTimeS,
                prediction.measured?.ccTimeS ?? Number.NaN,
                's',
              ),
              own('charge', prediction.chargeAh, prediction.measured?.chargeAh ?? Number.NaN, 'Ah'),
            ]),
      ],
    ),
  );
}

function writeBlock(fit: RaftFit, out: string, options: Options): void {
  const base = options.rig === undefined ? null : loadRig(options.rig);
  const heat = base?.rig.battery.raft.cell ?? HEAT;
  const beside = (file: string): string =>
    path
      .relative(path.dirname(path.resolve(out)), path.resolve(file))
      .split(path.sep)
      .join('/');
  const text = raftBlock(fit, {
    recording: realFiles.show(options.in),
    chemistry: base?.rig.battery.raft.cell.chemistry ?? 'not stated',
    extendsFile: base === null ? null : beside(base.file),
    name: 'fitted-raft',
    heatCapacityJPerK: heat.heatCapacityJPerK,
    thermalResistanceKPerW: heat.thermalResistanceKPerW,
  });
  try {
    writeDurably(out, text);
  } catch (error) {
    throw placeError(out, error);
  }
}
