/** `loopwarden limits`: every limit of a rig, who vouches for it, and which would bind at which current. */
import type { Command } from 'commander';
import { linkLoad, tripBudgets } from '../rig/budget.js';
import { type GeneratorClass, neededClass } from '../rig/generator-class.js';
import { roundOf } from '../rig/instrument-timing.js';
import { bindingTable, listLimits } from '../rig/limits.js';
import { type LoadedRig, loadRig } from '../rig/load.js';
import { touchV } from '../rig/touch.js';
import { NOTICE } from './notice.js';
import { celsius } from './numbers.js';
import { figure, fold, paint, say, table } from './print.js';

interface Options {
  readonly rig: string;
  readonly ambientC?: number;
  readonly cellC?: number;
  readonly json?: boolean;
}

/** Of trip times: those after whose cause a person may touch what is live. */
const TOUCHED: ReadonlySet<string> = new Set([
  'tripTimes.loopMs',
  'tripTimes.isolationMs',
  'bleeder.plugOhm',
]);

export function addLimits(program: Command): void {
  program
    .command('limits')
    .description('every limit of a rig, its source, and which one would bind at which current')
    .option('--rig <file>', 'rig file, or the name of a shipped rig', 'depot-cable')
    .option('--ambient-c <degC>', 'air temperature for the table of binding limits', celsius)
    .option('--cell-c <degC>', 'cell temperature for that table', celsius)
    .option('--json', 'one JSON object')
    .action((options: Options) => {
      const loaded = loadRig(options.rig);
      const { rig } = loaded;
      const conditions = {
        ...(options.ambientC === undefined ? {} : { ambientC: options.ambientC }),
        ...(options.cellC === undefined ? {} : { cellC: options.cellC }),
      };
      const limits = listLimits(loaded);
      const binding = bindingTable(rig, conditions);
      const budgets = tripBudgets(rig);
      const load = linkLoad(rig);
      const rounds = roundsOf(loaded);
      const generator = neededClass(rig.supply);
      if (options.json) {
        say(
          JSON.stringify({
            rig: rig.name,
            hash: loaded.hash,
            limits,
            binding,
            tripTimes: budgets.map((b) =>
              TOUCHED.has(b.setting) ? { ...b, touchV: touchV(b.totalMs / 1000) } : b,
            ),
            generatorClass: generator,
            linkLoad: load,
            ...(rounds.length > 0 ? { instruments: rounds } : {}),
          }),
        );
        return;
      }
      say(NOTICE);
      say();
      say(paint('bold', `${rig.name}: ${rig.title}`));
      say();
      say(
        table(
          ['limit', 'value', 'unit', 'source'],
          limits.map((l) => [l.path, figure(l.value, 6), l.unit, l.source]),
          [1],
        ),
      );
      say();
      say('Which limit binds, by open-circuit voltage of the train, and the two that would come next:');
      say(
        table(
          ['train V', 'binding', 'A', 'then'],
          binding.map(({ trainV, limits: all }) => [
            String(trainV),
            all[0]?.limit ?? '',
            figure(all[0]?.currentA ?? null),
            all
              .slice(1, 3)
              .map((l) => `${l.limit} ${figure(l.currentA)}`)
              .join(', '),
          ]),
          [0, 2],
        ),
      );
      say();
      say('From cause to current off, by way of the supervisor:');
      for (const b of budgets) {
        const parts = b.parts.map((p) => `${p.name} ${figure(p.ms)}`).join(' + ');
        say(`  ${b.protection}: ${figure(b.totalMs)} ms of ${figure(b.limitMs)} ms [${b.setting}]`);
        say(`      ${paint('dim', fold(parts, 96, '      '))}`);
      }
      say();
      say(
        fold(
          'For as long as that EN 50122-1:2011 Table 6 (published, transcription; for fixed installations) permits a ' +
            `touch of: ${budgets
              .filter((b) => TOUCHED.has(b.setting))
              .map((b) => `${b.protection} ${touchV(b.totalMs / 1000)} V`)
              .join(', ')}.`,
          100,
          '',
        ),
      );
      if (generator !== null) {
        const { needed, floors } = generator;
        const floor = (of: GeneratorClass): string =>
          `${of} ${figure(floors[of].voltageV)} V, ${figure(floors[of].frequencyHz)} Hz`;
        say();
        say(
          fold(
            `An engine set ${needed === null ? 'of no class' : `of class ${needed} or better`} stays above ` +
              'supply.minVoltageV and minFrequencyHz on its largest load step. Floors of the classes (ISO 8528-5, ' +
              `published, textbook table): ${floor('G1')}; ${floor('G2')}; ${floor('G3')}.`,
            100,
            '',
          ),
        );
      }
      say();
      say(
        table(
          ['port', 'to supervisor', 'to device'],
          load.map((p) => [
            p.port,
            `${figure(p.toSupervisor.percent, 3)} %`,
            `${figure(p.toDevice.percent, 3)} %`,
          ]),
          [1, 2],
        ),
      );
      if (rounds.length > 0) {
        say();
        say(
          table(
            ['port', 'instrument', 'round ms', 'every ms', 'when the process dies'],
            rounds.map((r) => [r.port, r.map, figure(r.roundMs, 3), String(r.pollMs), r.whenWeDie]),
            [2, 3],
          ),
        );
      }
    });
}

/** Instruments behind ports: one round at its longest, and what switches an output off when nobody asks any more. */
function roundsOf({ rig, instruments }: LoadedRig) {
  return rig.link.ports.flatMap(({ name, baud, pollMs = 0 }) => {
    const map = instruments.get(name);
    if (map === undefined) return [];
    const { watchdog, hardWiredStop } = map;
    const own = typeof watchdog === 'object' ? `its own watchdog, ${watchdog.timeMs} ms` : undefined;
    const whenWeDie = own ?? hardWiredStop ?? 'has no output';
    return [{ port: name, map: map.name, roundMs: roundOf(map, baud).ms, pollMs, whenWeDie }];
  });
}
