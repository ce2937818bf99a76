/** `loopwarden plan stop`: the best permitted charge of one stop, and what a wish that is not met would take. */
import type { Command } from 'commander';
import { mustBeWritable } from '../host/durable-file.js';
import { planStop, type StopPlan } from '../plan/plan-stop.js';
import { stopPlot } from '../plan/stop-plot.js';
import { endLine, minutes, resultLine, thumbLines } from '../plan/stop-words.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { EXIT } from '../supervisor/outcome.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { celsius, energyKwh, share, time } from './numbers.js';
import { planFileOf } from './plan-file.js';
import { figure, paint, printable, say, table } from './print.js';
import { writeOut } from './write-out.js';

interface Options {
  readonly rig: string;
  readonly socFrom: number;
  readonly socTo?: number;
  readonly energyKwh?: number;
  readonly dwell: number;
  readonly ambientC: number;
  readonly cellC?: number;
  readonly plot?: string;
  readonly out?: string;
  readonly json?: boolean;
}

export function addPlanStop(plan: Command): void {
  plan
    .command('stop')
    .description('one stop: energy, time, heat, what binds, and what would make it long enough')
    .requiredOption('--rig <name|file>', 'rig')
    .requiredOption('--soc-from <share>', 'state of charge on arrival', share)
    .option('--soc-to <share>', 'state of charge wished for', share)
    .option('--energy-kwh <kWh>', 'energy wished for, at the terminals of the rafts', energyKwh)
    .requiredOption(
      '--dwell <time>',
      'how long the train stands, e.g. 4min: from the start order to the plug free',
      time,
    )
    .option('--ambient-c <degC>', 'air and coolant', celsius, 20)
    .option('--cell-c <degC>', 'cells on arrival; 5 K above the air otherwise', celsius)
    .option('--plot <file.svg>', 'write a picture')
    .option('--out <file.json>', 'write the plan, for `--plan` of a session')
    .option('--json', 'one JSON object')
    .action(planOne);
}

/** Cells that have just moved a train are a little warmer than the air. */
const WARMER_K = 5;

async function planOne(options: Options): Promise<void> {
  const loaded = loadRig(options.rig);
  // Told before the work, not after it.
  for (const file of [options.plot, options.out]) if (file !== undefined) mustBeWritable(file);
  const { ambientC, cellC = ambientC + WARMER_K, socFrom: soc } = options;
  const plan = await planStop(loaded, {
    start: { soc, cellC, ambientC },
    socTo: options.socTo ?? Number.NaN,
    energyKwh: options.energyKwh ?? Number.NaN,
    dwellS: options.dwell,
  });
  if (options.plot !== undefined) await draw(plan, loaded, options.plot);
  if (options.out !== undefined) writeOut(options.out, planFileOf(plan, loaded));
  if (options.json) say(JSON.stringify(printable(told(plan))));
  else tell(plan, loaded, options);
  process.exitCode = plan.feasible ? EXIT.released : EXIT.requirementFailed;
}

const told = (plan: StopPlan) => ({
  feasible: plan.feasible,
  energyKwh: plan.run.energyKwh,
  wishedKwh: plan.wishedKwh,
  shortKwh: plan.shortKwh,
  requiredPowerKw: plan.arithmetic.requiredPowerKw,
  requiredCurrentA: plan.arithmetic.requiredCurrentA,
  leastDwellS: plan.leastDwellS,
  leastPowerS: plan.arithmetic.leastPowerS,
  durationS: plan.run.durationS,
  downAtS: plan.run.downAtS,
  /** As `--max-s` of a session. */
  latestDownS: plan.run.latestDownS,
  endReason: plan.run.endReason,
  socEnd: plan.run.socEnd,
  binding: plan.run.binding,
  peakCellC: plan.run.peak.cellC,
  peakCableC: plan.run.peak.cableC,
  peakContactC: plan.run.peak.contactC,
  end: plan.run.end,
  lossKwh: plan.run.lossKwh.converter + plan.run.lossKwh.line + plan.run.lossKwh.rafts,
  losses: plan.run.lossKwh,
  supplyPeakKw: plan.run.peak.supplyKw,
  supplyKwh: plan.run.supplyKwh,
  margins: plan.margins,
  arithmetic: plan.arithmetic,
  lead: plan.lead,
  remedies: plan.remedies,
});

function tell(plan: StopPlan, { rig }: LoadedRig, { plot, out }: Options): void {
  const { run, wish } = plan;
  say(NOTICE);
  say();
  say(paint('bold', `A stop of ${minutes(wish.dwellS)} on ${rig.name}: ${rig.title}`));
  say();
  say('By rule of thumb:');
  for (const line of thumbLines(plan)) say(`  ${line}`);
  say();
  say('By the limits and models of a session:');
  say(`  ${paint(plan.feasible ? 'green' : 'red', resultLine(plan))}`);
  say(`  ${endLine(plan)}`);
  say();
  say(
    table(
      ['binds', 'from s', 'to s'],
      run.binding.map((b) => [b.limit, figure(b.fromS), figure(b.toS)]),
      [1, 2],
    ),
  );
  say();
  const { converter, line, rafts } = run.lossKwh;
  say(`current at most       ${figure(run.peak.currentA)} A`);
  say(
    `hottest               cells ${figure(run.peak.cellC, 3)} °C, conductor ${figure(run.peak.cableC, 3)} °C, contact ${figure(run.peak.contactC, 3)} °C`,
  );
  say(`from the supply       ${figure(run.supplyKwh)} kWh, at most ${figure(run.peak.supplyKw)} kW`);
  say(
    `lost                  converter ${figure(converter)}, cable and contacts ${figure(line)}, in the rafts ${figure(rafts)} kWh`,
  );
  const { energyKwh: e, socEnd, cellC } = plan.margins;
  say(
    `with other cells      ${figure(e.low)} to ${figure(e.high)} kWh, ${figure(100 * socEnd.low)} to ${figure(100 * socEnd.high)} %, up to ${figure(cellC.high, 3)} °C: resistance ± 10 %, 5 K warmer or colder on arrival`,
  );
  if (plan.remedies.length > 0) {
    say();
    say('Any one of these would do it:');
    say(
      table(
        ['change', 'to', 'unit', 'that is'],
        plan.remedies.map((r) => [r.change, figure(r.value), r.unit, r.text]),
        [1],
      ),
    );
  } else if (!plan.feasible) say('\nNo single change that was looked for would do it.');
  if (plot !== undefined || out !== undefined) say();
  if (plot !== undefined) say(`picture in ${plot}`);
  if (out !== undefined) say(`plan in ${out}; \`dry-run\` and \`run\` take it up with --plan ${out}`);
}

async function draw(plan: StopPlan, { rig }: LoadedRig, file: string): Promise<void> {
  const title = `A stop of ${minutes(plan.wish.dwellS)} on ${rig.name}, from ${figure(100 * plan.wish.start.soc, 3)} %`;
  const svg = await stopPlot(plan, rig, title, [resultLine(plan), endLine(plan)], NOTICE_LINES);
  writeOut(file, svg);
}
