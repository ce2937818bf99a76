/** `loopwarden fit raft`: an equivalent circuit from recorded charges of one cell, held against another recording. */
import path from 'node:path';
import type { Command } from 'commander';
import { realFiles } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import type { ChargeRecord } from '../measure/charge-record.js';
import { raftBlock } from '../measure/raft-block.js';
import { fitRaftTogether, type RaftFit } from '../measure/raft-fit.js';
import { assumedC, type Prediction, predictRaft } from '../measure/raft-predict.js';
import { judgeRaft, RAFT_VERDICTS } from '../measure/raft-verdict.js';
import { loadRig } from '../rig/load.js';
import { loadCharge, loadOcv, type Together } from './fit-files.js';
import { type Fitted, raftJson, tellRaft, warmthOf } from './fit-raft-tell.js';
import { aboveZero, celsius, countFromOne, each, share } from './numbers.js';
import { type Series, writePlot } from './plot.js';
import { say } from './print.js';
import { oneOf, requireVerdict } from './recording.js';
import { writeOut } from './write-out.js';

interface Options {
  readonly in: readonly string[];
  readonly ocv?: string;
  readonly predict?: string;
  readonly capacityAh?: number;
  readonly socStart?: readonly number[];
  readonly predictSocStart?: number;
  readonly cellC?: readonly number[];
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
/** More recordings would take minutes; and no cell is measured at so many temperatures. */
const MOST_RECORDINGS = 12;

export function addFitRaft(fit: Command): void {
  fit
    .command('raft')
    .description('open-circuit volts, R0 and two R-C pairs over the state of charge, from recorded charges')
    .requiredOption(
      '--in <file>',
      'CSV with time_s, current_a (charging positive), voltage_v; a cell’s temperature (…_degc) if logged. ' +
        'Several of one cell may be given; at several temperatures they tell how its resistances depend on it',
      each((text: string) => text),
    )
    .option('--ocv <file>', 'measured open-circuit volts: CSV with soc_percent, ocv_mean_v')
    .option('--predict <file>', 'another recording, to be foretold from its current')
    .option('--capacity-ah <Ah>', 'else from the recording', aboveZero('ampere hours'))
    .option(
      '--soc-start <share>',
      'at the first row, 0 to 1; else from the recording; once for each --in',
      each(share),
    )
    .option('--predict-soc-start <share>', 'the same of the other recording', share)
    .option(
      '--cell-c <degC>',
      'temperature where none was logged (25); once for each --in, in the same order',
      each(celsius),
    )
    .option('--predict-cell-c <degC>', 'the same of the other recording', celsius)
    .option('--series-cells <n>', 'cells in series that were recorded together', countFromOne, 1)
    .option('--parallel-cells <n>', 'strings in parallel that were recorded together', countFromOne, 1)
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
  const together: Together = { series: options.seriesCells, parallel: options.parallelCells };
  if (options.in.length > MOST_RECORDINGS) {
    throw new InputError(
      `--in was given ${options.in.length} times, expected at most ${MOST_RECORDINGS} times`,
    );
  }
  const cellC = forEach(options.in, '--cell-c', options.cellC);
  const socStart = forEach(options.in, '--soc-start', options.socStart);
  const records = options.in.map((file) => loadCharge(file, together));
  const ocv = options.ocv === undefined ? undefined : loadOcv(options.ocv);
  const other = options.predict === undefined ? null : loadCharge(options.predict, together);
  // Before the fit, which takes a while, for a rig that cannot be used.
  const base = options.rig === undefined ? null : loadRig(options.rig);
  const { capacityAh, predictSocStart, predictCellC } = options;
  const fit = fitRaftTogether(
    records.map((record, j) => ({
      record,
      ...(socStart?.[j] === undefined ? {} : { socStart: socStart[j] }),
      ...(cellC?.[j] === undefined ? {} : { cellC: cellC[j] }),
    })),
    {
      ...(capacityAh === undefined ? {} : { capacityAh: capacityAh / together.parallel }),
      ...(ocv === undefined ? {} : { ocv }),
    },
  );
  const prediction =
    other === null
      ? null
      : predictRaft(fit, other, {
          ...(predictSocStart === undefined ? {} : { socStart: predictSocStart }),
          ...(predictCellC === undefined ? {} : { cellC: predictCellC }),
        });
  const judged = judgeRaft(fit, prediction);
  const found: Fitted = {
    fit,
    ...judged,
    recordings: records.map((record, j) => warmthOf(options.in[j]!, record, cellC?.[j], fit.recordings[j]!)),
    prediction:
      prediction === null || other === null
        ? null
        : {
            ...prediction,
            ...warmthOf(options.predict!, other, predictCellC, { cellC: assumedC(fit) }),
          },
  };
  if (options.plot !== undefined) {
    await writePlot(options.plot, {
      title: `Raft: ${judged.verdict}`,
      subtitle: judged.because,
      xTitle: 'time, h',
      yTitle: 'volts of one cell, V',
      series: seriesOf(options, records, fit, other, prediction),
    });
  }
  // Last of the files: a rig is to use it.
  if (options.out !== undefined) writeBlock(fit, options.out, options.in, base);
  if (options.json) say(JSON.stringify(raftJson(found)));
  else tellRaft(found);
  requireVerdict(judged.verdict, options.require);
}

/** What belongs to each recording is given for each, or for none. */
function forEach(
  files: readonly string[],
  option: string,
  given: readonly number[] | undefined,
): readonly number[] | undefined {
  if (given === undefined || given.length === files.length) return given;
  throw new InputError(
    `${option} was given ${given.length} ${given.length === 1 ? 'time' : 'times'}, expected once for each of the ` +
      `${files.length} recordings (--in), in the same order, or not at all`,
  );
}

/** From the first row: some loggers count from midnight, or from years ago. */
const hours = ({ timeS }: ChargeRecord): Float64Array => timeS.map((t) => (t - timeS[0]!) / 3600);

/** The recording foretold, or else those fitted to. */
function seriesOf(
  options: Options,
  records: readonly ChargeRecord[],
  fit: RaftFit,
  other: ChargeRecord | null,
  prediction: Prediction | null,
): Series[] {
  const pair = (record: ChargeRecord, computedV: Float64Array, how: string, name: string): Series[] => [
    { name: `recorded${name}`, x: hours(record), y: record.voltageV, mark: 'points' },
    { name: `${how}${name}`, x: hours(record), y: computedV, mark: 'line' },
  ];
  if (other !== null && prediction !== null)
    return pair(other, prediction.residuals.computedV, 'foretold', '');
  return records.flatMap((record, j) => {
    const name = records.length === 1 ? '' : ` ${j + 1}, ${path.basename(options.in[j]!)}`;
    return pair(record, fit.recordings[j]!.residuals.computedV, 'fitted', name);
  });
}

function writeBlock(
  fit: RaftFit,
  out: string,
  files: readonly string[],
  base: ReturnType<typeof loadRig> | null,
): void {
  const heat = base?.rig.battery.raft.cell ?? HEAT;
  const beside = (file: string): string =>
    path
      .relative(path.dirname(path.resolve(out)), path.resolve(file))
      .split(path.sep)
      .join('/');
  const text = raftBlock(fit, {
    recording: files.map((file) => realFiles.show(file)).join(', '),
    chemistry: base?.rig.battery.raft.cell.chemistry ?? 'not stated',
    extendsFile: base === null ? null : beside(base.file),
    name: 'fitted-raft',
    heatCapacityJPerK: heat.heatCapacityJPerK,
    thermalResistanceKPerW: heat.thermalResistanceKPerW,
  });
  writeOut(out, text);
}
