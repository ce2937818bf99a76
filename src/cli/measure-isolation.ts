/** `loopwarden measure isolation`: pole resistances and capacitances from a recording of the known-resistor method. */
import type { Command } from 'commander';
import type { Estimate } from '../checks/estimate.js';
import { isolationFromCurve, positionsOf } from '../checks/isolation-curve.js';
import { RESISTOR_POSITIONS, type ResistorAt } from '../checks/isolation-record.js';
import { EXEMPT_C, ISOLATION_VERDICTS, judgeIsolation } from '../checks/isolation-verdict.js';
import { realFiles } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { numbersOf, wordsOf } from '../measure/csv.js';
import { loadRig } from '../rig/load.js';
import { estimateFields, estimateText } from './estimates.js';
import { NOTICE } from './notice.js';
import { aboveZero } from './numbers.js';
import { writePlot } from './plot.js';
import { figure, fold, paint, say, table } from './print.js';
import { loadRecording, oneOf, requireVerdict, stated } from './recording.js';

interface Options {
  readonly in: string;
  readonly rig: string;
  readonly knownOhm?: number;
  readonly meterOhm?: number;
  readonly json?: boolean;
  readonly require?: string;
  readonly plot?: string;
}

const COLUMNS = [
  { name: 'time_s', kind: 'number' },
  { name: 'v_pos_v', kind: 'number' },
  { name: 'v_neg_v', kind: 'number' },
  { name: 'resistor', kind: 'word', words: RESISTOR_POSITIONS },
] as const;
const LEAST_ROWS = 8;

export function addMeasureIsolation(measure: Command): void {
  measure
    .command('isolation')
    .description('pole resistances and capacitances from pole voltages with a known resistor switched')
    .requiredOption('--in <file>', 'CSV with time_s, v_pos_v, v_neg_v, resistor (none, pos or neg)')
    .option('--rig <file>', 'rig file, or the name of a shipped rig', 'depot-cable')
    .option('--known-ohm <ohm>', 'the resistor that was switched, instead of the rig’s', aboveZero('ohms'))
    .option('--meter-ohm <ohm>', 'each pole’s voltmeter to chassis, instead of the rig’s', aboveZero('ohms'))
    .option('--json', 'one JSON object')
    .option(
      '--require <verdict>',
      `exit 7 on any verdict but this: ${ISOLATION_VERDICTS.join(', ')}`,
      oneOf(ISOLATION_VERDICTS),
    )
    .option('--plot <svg>', 'draw record and curve into this file')
    .action(run);
}

async function run(options: Options): Promise<void> {
  const { rig, file: rigFile } = loadRig(options.rig);
  const recording = loadRecording(options.in, COLUMNS, { minRows: LEAST_ROWS });
  const record = {
    timeS: numbersOf(recording, 'time_s'),
    positiveV: numbersOf(recording, 'v_pos_v'),
    negativeV: numbersOf(recording, 'v_neg_v'),
    resistor: wordsOf(recording, 'resistor') as readonly ResistorAt[],
  };
  needPositions(options.in, record.resistor);
  const knownOhm = options.knownOhm ?? rig.isolation.knownOhm;
  const meterOhm = options.meterOhm ?? rig.isolation.meterOhm;
  const curve = isolationFromCurve(record, { knownOhm, meterOhm });
  const judged = judgeIsolation(curve, rig.isolation);
  const { verdict } = judged;
  if (options.plot !== undefined) {
    const { drawn } = curve;
    await writePlot(options.plot, {
      title: `Isolation: ${verdict}`,
      subtitle: `${estimateText(curve.positiveOhm, 'Ω')} positive, ${estimateText(curve.negativeOhm, 'Ω')} negative`,
      xTitle: 'time, s',
      yTitle: 'pole to chassis, V',
      series: [
        { name: 'positive, recorded', x: record.timeS, y: record.positiveV, mark: 'points' },
        {
          name: 'negative, recorded',
          x: record.timeS,
          y: record.negativeV.map((v) => v * curve.negativeSign),
          mark: 'points',
        },
        { name: 'positive, computed', x: drawn.timeS, y: drawn.positiveV, mark: 'line' },
        { name: 'negative, computed', x: drawn.timeS, y: drawn.negativeV, mark: 'line' },
      ],
    });
  }
  if (options.json) {
    say(
      JSON.stringify({
        verdict,
        because: judged.because,
        ...estimateFields('positiveOhm', curve.positiveOhm),
        ...estimateFields('negativeOhm', curve.negativeOhm),
        ...estimateFields('parallelOhm', curve.parallelOhm),
        ...estimateFields('ohmPerVolt', curve.ohmPerVolt),
        ...estimateFields('positiveFarad', curve.positiveFarad),
        ...estimateFields('negativeFarad', curve.negativeFarad),
        ...estimateFields('totalFarad', curve.totalFarad),
        ...estimateFields('storedJ', curve.storedJ),
        ...estimateFields('storedAtWorkingJ', judged.storedAtWorkingJ),
        ...estimateFields('storedAtWorkingC', judged.storedAtWorkingC),
        needsDischarge: needsDischarge(judged.storedAtWorkingC),
        dividedBetweenPoles: curve.dividedBetweenPoles,
        voltageV: stated(curve.voltageV),
        timeConstantS: stated(curve.timeConstantS),
        fitRmsV: stated(curve.fitRmsV),
        figure: rig.isolation.figure,
        requiredOhm: judged.requiredOhm,
        warnOhm: judged.warnOhm,
        knownOhm,
        meterOhm,
        rig: rig.name,
      }),
    );
  } else {
    say(NOTICE);
    say();
    say(`${paint('bold', verdict)}: ${judged.because}`);
    say();
    say(
      table(
        ['', 'found'],
        [
          ['positive pole', estimateText(curve.positiveOhm, 'Ω')],
          ['negative pole', estimateText(curve.negativeOhm, 'Ω')],
          ['both in parallel', estimateText(curve.parallelOhm, 'Ω')],
          ['lower pole', estimateText(curve.ohmPerVolt, 'Ω/V')],
          ['capacitance, positive pole', estimateText(curve.positiveFarad, 'F')],
          ['capacitance, negative pole', estimateText(curve.negativeFarad, 'F')],
          ['capacitance, both', estimateText(curve.totalFarad, 'F')],
          ['stored', estimateText(curve.storedJ, 'J')],
          ['stored at working voltage', estimateText(judged.storedAtWorkingJ, 'J')],
          [
            'charge at working voltage',
            `${estimateText(judged.storedAtWorkingC, 'C')} (up to ${EXEMPT_C * 1e6} µC: IEC 60204-1 6.2.4 exempt)`,
          ],
          ['pole to pole', `${figure(curve.voltageV)} V`],
        ],
      ),
    );
    say();
    say(
      fold(
        `Limit for the ${rig.isolation.figure} figure: ${figure(judged.requiredOhm / 1000)} kΩ, warned of below ` +
          `${figure(judged.warnOhm / 1000)} kΩ (isolation.minOhmPerVolt, warnOhmPerVolt and workingVoltageV of ` +
          `${rigFile}). Uncertainties are 95 %, as far as the record shows; what the known resistor itself is off ` +
          'by comes on top.',
        100,
        '',
      ),
    );
    if (!curve.dividedBetweenPoles) {
      say(
        fold(
          'While the pole-to-pole voltage stands still only the sum of both capacitances shows: each is stated as ' +
            'half of it, give or take all of it.',
          100,
          '',
        ),
      );
    }
  }
  requireVerdict(verdict, options.require);
}

/** False only when proven to be exempt; null when the record says nothing of it. */
const needsDischarge = ({ value, atMost }: Estimate): boolean | null =>
  Number.isNaN(value) && !Number.isFinite(atMost) ? null : !(atMost <= EXEMPT_C);

/** One position of the resistor gives one equation for two leaks. */
function needPositions(file: string, resistor: readonly ResistorAt[]): void {
  const found = positionsOf(resistor);
  if (found.length >= 2) return;
  const shown = realFiles.show(file);
  throw new InputError(`recording ${shown} cannot be used`, [
    {
      file: shown,
      line: 0,
      path: 'resistor',
      message:
        `found ${found.length === 0 ? 'no position' : `only ${found.join()}`} with 2 rows or more, expected at ` +
        'least two of none, pos, neg: one position leaves the two leaks undetermined',
    },
  ]);
}
