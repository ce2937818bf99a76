/** `loopwarden measure loop`: what a recorded pilot current proves about the loop. */
import type { Command } from 'commander';
import type { Pilot } from '../checks/loop-figures.js';
import { type LoopMeasurement, WAVEFORM_VERDICTS } from '../checks/loop-waveform.js';
import { realFiles } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { numbersOf, type Recording } from '../measure/csv.js';
import { LOOP_COLUMNS, MAX_LOOP_ROWS, MIN_LOOP_ROWS, measureLoop } from '../measure/loop.js';
import { loadRig } from '../rig/load.js';
import { estimateFields, estimateText } from './estimates.js';
import { NOTICE } from './notice.js';
import { aboveZero } from './numbers.js';
import { writePlot } from './plot.js';
import { figure, paint, say, table } from './print.js';
import { loadRecording, oneOf, requireVerdict, withUncertainty } from './recording.js';

interface Options {
  readonly in: string;
  readonly rig: string;
  readonly json?: boolean;
  readonly sourceVrms?: number;
  readonly sourceOhm?: number;
  readonly frequencyHz?: number;
  readonly require?: string;
  readonly plot?: string;
}

export function addMeasureLoop(measure: Command): void {
  measure
    .command('loop')
    .description(
      'series and shunt resistance of the pilot loop from its current (columns time_s, current_a), seen from the ' +
        'charger',
    )
    .requiredOption('--in <file>', 'recording: CSV with columns time_s and current_a')
    .option('--rig <file>', 'rig file, or the name of a shipped rig', 'depot-cable')
    .option('--source-vrms <V>', 'pilot source, r.m.s., instead of the rig’s', aboveZero('volts'))
    .option('--source-ohm <ohm>', 'source resistor instead of the rig’s', aboveZero('ohms'))
    .option('--frequency-hz <Hz>', 'pilot frequency instead of the rig’s', aboveZero('hertz'))
    .option('--require <verdict>', 'exit 7 unless this is the verdict', oneOf(WAVEFORM_VERDICTS))
    .option('--plot <file>', 'draw recording and fitted loop as SVG')
    .option('--json', 'one JSON object')
    .action(async (options: Options) => {
      const pilot = pilotOf(options);
      const recording = loadRecording(options.in, LOOP_COLUMNS, {
        minRows: MIN_LOOP_ROWS,
        maxRows: MAX_LOOP_ROWS,
      });
      const shown = realFiles.show(options.in);
      const found = measureLoop(recording, pilot, shown);
      if (options.plot !== undefined) await draw(options.plot, recording, found);
      say(options.json ? JSON.stringify(asJson(found)) : asText(found, shown));
      requireVerdict(found.verdict, options.require);
    });
}

function pilotOf(options: Options): Pilot {
  const { pilot, name } = loadRig(options.rig).rig;
  if (pilot === undefined)
    throw new InputError(`rig ${name} has no pilot loop: presence on shoes is read from sense contacts`);
  return {
    ...pilot,
    sourceVrms: options.sourceVrms ?? pilot.sourceVrms,
    sourceOhm: options.sourceOhm ?? pilot.sourceOhm,
    frequencyHz: options.frequencyHz ?? pilot.frequencyHz,
  };
}

const FIGURES = ['meanA', 'rmsA', 'asymmetry', 'seriesOhm', 'shuntOhm'] as const;

function asJson(found: LoopMeasurement): Record<string, unknown> {
  const figures = FIGURES.map((name) => estimateFields(name, found[name]));
  return {
    verdict: found.verdict,
    reason: found.reason,
    ...Object.assign({}, ...figures),
    frequencyHz: found.frequencyHz,
    periods: found.periods,
    pointsPerPeriod: found.pointsPerPeriod,
    noiseA: found.noiseA,
    pickUp: found.pickUp.map((l) => ({ frequencyHz: l.hertz, amplitudeA: Math.hypot(l.cosA, l.sinA) })),
  };
}

function asText(found: LoopMeasurement, file: string): string {
  const good = found.verdict === 'genuine';
  const pickUp = found.pickUp.map(
    (l) => `${figure(l.hertz, 4)} Hz ${figure(Math.hypot(l.cosA, l.sinA) * 1000, 3)} mA`,
  );
  return [
    NOTICE,
    '',
    `${file}: ${paint(good ? 'green' : 'red', found.verdict)}`,
    found.reason,
    '',
    table(
      ['seen from the charger', ''],
      [
        ['series', estimateText(found.seriesOhm, 'Ω')],
        ['shunt', estimateText(found.shuntOhm, 'Ω')],
        ['mean', estimateText(found.meanA, 'A')],
        ['r.m.s.', estimateText(found.rmsA, 'A')],
        ['asymmetry', withUncertainty(found.asymmetry.value, found.asymmetry.uncertainty)],
      ],
    ),
    '',
    `${figure(found.periods, 4)} periods of ${figure(found.frequencyHz, 5)} Hz, ` +
      `${figure(found.pointsPerPeriod, 4)} points each, noise ${figure(found.noiseA * 1000, 3)} mA` +
      `${pickUp.length > 0 ? `, pick-up ${pickUp.join(', ')}` : ''}`,
  ].join('\n');
}

/** Three periods show what there is to see; the whole recording would be a grey band. */
const PLOT_PERIODS = 3;

async function draw(file: string, recording: Recording, found: LoopMeasurement): Promise<void> {
  const timeS = numbersOf(recording, 'time_s');
  const n = Math.min(timeS.length, Math.ceil(PLOT_PERIODS * found.pointsPerPeriod) + 1);
  const x = timeS.subarray(0, n).map((t) => (t - timeS[0]!) * 1000);
  const inMilli = (a: Float64Array): Float64Array => a.subarray(0, n).map((i) => i * 1000);
  await writePlot(file, {
    title: `Pilot loop: ${found.verdict}`,
    subtitle: found.reason,
    xTitle: 'time since start, ms',
    yTitle: 'pilot current, mA',
    series: [
      { name: 'recorded', x, y: inMilli(numbersOf(recording, 'current_a')), mark: 'points' },
      { name: 'fitted loop, without pick-up', x, y: inMilli(found.fittedA), mark: 'line' },
    ],
  });
}
