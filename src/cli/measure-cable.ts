/** `loopwarden measure cable`: what a cable does and bears, each figure with the table and clause it comes from. */
import { type Command, InvalidArgumentError } from 'commander';
import { CABLE_VERDICTS, cableFigures } from '../checks/cable-figures.js';
import type { CableFigures, ConductorMm2, Insulation } from '../rig/ratings.js';
import { connectionSchema } from '../rig/schema.js';
import { estimateFields, estimateText } from './estimates.js';
import { NOTICE } from './notice.js';
import { aboveZero, celsius, count } from './numbers.js';
import { type Series, writePlot } from './plot.js';
import { figure, paint, say, table } from './print.js';
import { oneOf, requireVerdict, stated } from './recording.js';

interface Options {
  readonly mm2: ConductorMm2;
  readonly lengthM: number;
  readonly currentA: number;
  readonly ambientC: number;
  readonly coresPerPole: 1 | 2;
  readonly insulation: Insulation;
  readonly drumLayers: number;
  readonly json?: boolean;
  readonly require?: string;
  readonly plot?: string;
}

const PLOTTED = 60;

const cableShape = connectionSchema.shape.cable.shape;
const SECTIONS = [...cableShape.mm2.values];
const INSULATIONS = cableShape.insulation.options;

const section = (text: string): ConductorMm2 => {
  const found = SECTIONS.find((mm2) => mm2 === Number(text));
  if (found === undefined) throw new InvalidArgumentError(`expected one of ${SECTIONS.join(', ')}`);
  return found;
};
const layers = (text: string): number => {
  const value = count(text);
  if (value > 4) throw new InvalidArgumentError('expected a whole number from 0 to 4');
  return value;
};
const cores = (text: string): 1 | 2 => {
  if (text !== '1' && text !== '2') throw new InvalidArgumentError('expected 1 or 2');
  return text === '1' ? 1 : 2;
};

export function addMeasureCable(measure: Command): void {
  measure
    .command('cable')
    .description('resistance, drop, loss, temperature, rating and fault withstand of a cable, with sources')
    .requiredOption('--mm2 <mm2>', `section of one core: ${SECTIONS.join(', ')}`, section)
    .requiredOption('--length-m <m>', 'one way', aboveZero('metres'))
    .requiredOption('--current-a <a>', 'steady, of one pole', aboveZero('amperes'))
    .requiredOption('--ambient-c <degC>', 'air', celsius)
    .option('--cores-per-pole <n>', '1 or 2, laid apart', cores, 1)
    .option(
      '--insulation <kind>',
      `${INSULATIONS.join(', ')} (default: epr-xlpe)`,
      oneOf(INSULATIONS),
      'epr-xlpe',
    )
    .option('--drum-layers <n>', 'wound on a drum, 0 to 4; 0 is laid out', layers, 0)
    .option('--json', 'one JSON object')
    .option(
      '--require <verdict>',
      `exit 7 on any verdict but this: ${CABLE_VERDICTS.join(', ')}`,
      oneOf(CABLE_VERDICTS),
    )
    .option('--plot <svg>', 'draw the conductor temperature over the current into this file')
    .action(run);
}

async function run(options: Options): Promise<void> {
  const { currentA, ambientC, json: _, require, plot, ...cable } = options;
  const found = cableFigures(cable satisfies CableFigures, currentA, ambientC);
  const { verdict, because, sources } = found;
  if (plot !== undefined) {
    const settles = (a: number): number => cableFigures(cable, a, ambientC).steadyC.value;
    const permittedA = found.permittedA;
    const mostA = 1.1 * Math.max(currentA, permittedA > 0 ? permittedA : 0);
    const x = Array.from({ length: PLOTTED + 1 }, (_, k) => (mostA * k) / PLOTTED);
    const point = (name: string, a: number): Series => ({ name, x: [a], y: [settles(a)], mark: 'points' });
    await writePlot(plot, {
      title: `Cable: ${verdict}`,
      subtitle:
        `${cable.mm2} mm², ${cable.coresPerPole === 1 ? '1 core' : `${cable.coresPerPole} cores`} a pole, ` +
        `air ${ambientC} °C`,
      xTitle: 'current, A',
      yTitle: 'conductor settles at, °C',
      series: [
        { name: 'conductor', x, y: x.map(settles), mark: 'line' },
        point(`this current, ${figure(currentA)} A`, currentA),
        ...(permittedA > 0 ? [point(`permitted, ${figure(permittedA)} A`, permittedA)] : []),
      ],
    });
  }
  if (options.json) {
    say(
      JSON.stringify({
        verdict,
        because,
        at20Ohm: found.at20Ohm,
        ...estimateFields('resistanceOhm', found.resistanceOhm),
        ...estimateFields('dropV', found.dropV),
        ...estimateFields('lossW', found.lossW),
        ...estimateFields('steadyC', found.steadyC),
        permittedA: stated(found.permittedA),
        faultWithstandA2s: found.faultWithstandA2s,
        faultOneSecondA: found.faultOneSecondA,
        sources,
        mm2: cable.mm2,
        lengthM: cable.lengthM,
        coresPerPole: cable.coresPerPole,
        insulation: cable.insulation,
        drumLayers: cable.drumLayers,
        currentA,
        ambientC,
      }),
    );
  } else {
    say(NOTICE);
    say();
    say(`${paint('bold', verdict)}: ${because}`);
    say();
    say(
      table(
        ['', '', 'source'],
        [
          ['loop at 20 °C', `${figure(1000 * found.at20Ohm)} mΩ`, sources.at20Ohm ?? ''],
          ['loop in use', estimateText(found.resistanceOhm, 'Ω'), sources.resistanceOhm ?? ''],
          ['drop', estimateText(found.dropV, 'V'), sources.dropV ?? ''],
          ['loss', estimateText(found.lossW, 'W'), sources.lossW ?? ''],
          ['conductor settles at', estimateText(found.steadyC, '°C'), sources.steadyC ?? ''],
          ['permitted', `${figure(found.permittedA)} A`, sources.permittedA ?? ''],
          [
            'fault withstand',
            `${figure(found.faultWithstandA2s / 1e6)} MA²s, ${figure(found.faultOneSecondA / 1000)} kA for 1 s`,
            sources.faultWithstandA2s ?? '',
          ],
        ],
      ),
    );
  }
  requireVerdict(verdict, require);
}
