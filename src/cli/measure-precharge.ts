/** `loopwarden measure precharge`: time constant and end of a recorded pre-charge against what the rig expects. */
import type { Command } from 'commander';
import { PRECHARGE_VERDICTS, type PrechargeExpected, prechargeFromCurve } from '../checks/precharge-curve.js';
import { InputError } from '../host/input-error.js';
import { numbersOf } from '../measure/csv.js';
import { loadRig } from '../rig/load.js';
import type { Rig } from '../rig/schema.js';
import { packV } from '../rig/volts.js';
import { estimateFields, estimateText } from './estimates.js';
import { NOTICE } from './notice.js';
import { aboveZero } from './numbers.js';
import { writePlot } from './plot.js';
import { figure, paint, say, table } from './print.js';
import { loadRecording, oneOf, requireVerdict, stated } from './recording.js';

interface Options {
  readonly in: string;
  readonly rig: string;
  readonly supplyV?: number;
  readonly resistorOhm?: number;
  readonly capacitanceF?: number;
  readonly json?: boolean;
  readonly require?: string;
  readonly plot?: string;
}

const COLUMNS = [
  { name: 'time_s', kind: 'number' },
  { name: 'voltage_v', kind: 'number' },
] as const;
const LEAST_ROWS = 8;

export function addMeasurePrecharge(measure: Command): void {
  measure
    .command('precharge')
    .description('time constant and final value of a recorded pre-charge')
    .requiredOption('--in <file>', 'CSV with time_s, voltage_v (across the capacitor)')
    .option('--rig <file>', 'rig file, or the name of a shipped rig', 'yard-precharge')
    .option('--supply-v <volt>', 'what feeds it; else any voltage of the rig’s train', aboveZero('volts'))
    .option('--resistor-ohm <ohm>', 'instead of the rig’s', aboveZero('ohms'))
    .option('--capacitance-f <farad>', 'instead of the rig’s', aboveZero('farads'))
    .option('--json', 'one JSON object')
    .option(
      '--require <verdict>',
      `exit 7 on any verdict but this: ${PRECHARGE_VERDICTS.join(', ')}`,
      oneOf(PRECHARGE_VERDICTS),
    )
    .option('--plot <svg>', 'draw record and curve into this file')
    .action(run);
}

/** What the rig leads one to expect, unless the command line says otherwise. */
function expectedOf(rig: Rig, rigFile: string, options: Options): PrechargeExpected {
  const resistorOhm = options.resistorOhm ?? rig.precharge?.resistorOhm;
  if (resistorOhm === undefined) {
    throw new InputError(`rig ${rigFile} has no pre-charge: expected --resistor-ohm, or a rig with one`);
  }
  const { minCellV, maxCellV } = rig.battery.raft;
  // The rig's time is for the rig's own parts.
  const own = options.resistorOhm === undefined && options.capacitanceF === undefined;
  return {
    leastSupplyV: options.supplyV ?? packV(rig, minCellV),
    mostSupplyV: options.supplyV ?? packV(rig, maxCellV),
    resistorOhm,
    capacitanceF: options.capacitanceF ?? rig.converter.capacitanceF,
    matchV: rig.contactors.matchV,
    ...(own && rig.precharge !== undefined ? { maxS: rig.precharge.maxS } : {}),
  };
}

async function run(options: Options): Promise<void> {
  const { rig, file: rigFile } = loadRig(options.rig);
  const expected = expectedOf(rig, rigFile, options);
  const recording = loadRecording(options.in, COLUMNS, { minRows: LEAST_ROWS });
  const timeS = numbersOf(recording, 'time_s');
  const voltageV = numbersOf(recording, 'voltage_v');
  const curve = prechargeFromCurve(timeS, voltageV, expected);
  const { verdict } = curve;
  const supply =
    expected.leastSupplyV === expected.mostSupplyV
      ? `${figure(expected.leastSupplyV)} V`
      : `${figure(expected.leastSupplyV)} to ${figure(expected.mostSupplyV)} V`;
  if (options.plot !== undefined) {
    await writePlot(options.plot, {
      title: `Pre-charge: ${verdict}`,
      subtitle: `time constant ${estimateText(curve.tauS, 's')}, expected ${figure(curve.expectedTauS)} s`,
      xTitle: 'time, s',
      yTitle: 'across the capacitor, V',
      series: [
        { name: 'recorded', x: timeS, y: voltageV, mark: 'points' },
        { name: 'computed', x: curve.drawn.timeS, y: curve.drawn.voltageV, mark: 'line' },
      ],
    });
  }
  if (options.json) {
    say(
      JSON.stringify({
        verdict,
        because: curve.because,
        ...estimateFields('tauS', curve.tauS),
        ...estimateFields('finalV', curve.finalV),
        startV: stated(curve.startV),
        beginS: stated(curve.beginS),
        expectedTauS: curve.expectedTauS,
        matchedAfterS: stated(curve.matchedAfterS),
        fitRmsV: stated(curve.fitRmsV),
        resistorOhm: expected.resistorOhm,
        capacitanceF: expected.capacitanceF,
        leastSupplyV: expected.leastSupplyV,
        mostSupplyV: expected.mostSupplyV,
        rig: rig.name,
      }),
    );
  } else {
    say(NOTICE);
    say();
    say(`${paint('bold', verdict)}: ${curve.because}`);
    say();
    say(
      table(
        ['', 'found', 'expected'],
        [
          ['time constant', estimateText(curve.tauS, 's'), `${figure(curve.expectedTauS)} s`],
          ['final value', estimateText(curve.finalV, 'V'), supply],
          ['begins', `${figure(curve.beginS)} s`, ''],
          [
            `within ${figure(expected.matchV)} V after`,
            `${figure(curve.matchedAfterS)} s`,
            expected.maxS === undefined ? '' : `at most ${figure(expected.maxS)} s`,
          ],
        ],
      ),
    );
  }
  requireVerdict(verdict, options.require);
}
