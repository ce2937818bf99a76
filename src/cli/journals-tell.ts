/** The summary of many journals as people read it: problems and warnings first, then what was done. */
import { DRIFTING, tell } from '../fleet/drift.js';
import type { FleetSummary } from '../fleet/summary.js';
import { isoOf } from '../host/clock.js';
import { figure, fold, paint, say, table, withUnit } from './print.js';

const COLUMNS = 110;
const MOST_TOLD = 20;
const NEAREST = 12;
const DAY_CHARS = 10;

const counts = (of: Readonly<Record<string, number>>): string =>
  Object.entries(of)
    .map(([name, n]) => `${name} ${n}`)
    .join(', ') || 'none';
const row = (name: string, text: string): void =>
  say(`${name.padEnd(12)}${fold(text, COLUMNS, ' '.repeat(12))}`);
const day = (wallMs: number): string => isoOf(wallMs).slice(0, DAY_CHARS);

export function tellFleet(all: FleetSummary, withinWeeks: number): void {
  const { journals, sessions, rehearsals, notIntact, diverging, unfinished, energy } = all;
  const bad = notIntact + diverging + unfinished;
  say(
    paint(
      bad === 0 ? 'green' : 'red',
      bad === 0
        ? `ALL SOUND: ${all.folder}`
        : `${notIntact} NOT INTACT, ${diverging} DIVERGING OR BREAKING AN INVARIANT, ${unfinished} UNFINISHED: ${all.folder}`,
    ),
  );
  row(
    'journals',
    `${journals}; ${sessions} sessions counted, all intact${rehearsals > 0 ? `, ${rehearsals} of them rehearsals in virtual time` : ''}; by record: ${counts(all.rows)}`,
  );
  if (all.copies > 0)
    row(
      '',
      paint(
        'yellow',
        `${all.copies} of them are copies of another file, counted all the same: sums are too high`,
      ),
    );
  row('decisions', decisionsOf(all));
  row('ended', counts(all.outcomes));
  row('trips', counts(all.trips));
  row('refusals', counts(all.refusals));
  row(
    'energy',
    `${figure(energy.toBatteryKwh)} kWh to the batteries by their own lines (told: ${figure(energy.toldKwh)}), ${figure(energy.fromSupplyKwh)} kWh from the supplies`,
  );
  tellProblems(all);
  tellWarnings(all, withinWeeks);
  tellNearest(all);
  tellRigs(all);
}

function decisionsOf({ replayed, notReplayed, diverging }: FleetSummary): string {
  if (!replayed) return 'not decided anew: --replay does';
  const left = notReplayed > 0 ? `, but for ${notReplayed} that could not be` : '';
  return `decided anew${left}; ${diverging === 0 ? 'all came out the same' : `${diverging} diverge or break an invariant`}`;
}

function tellProblems({ problems, problemCount }: FleetSummary): void {
  if (problemCount === 0) return;
  say();
  const rows = problems.slice(0, MOST_TOLD).map(({ file, row: record, what }) => [file, record, what]);
  say(table(['not sound or not finished', 'record', 'what'], rows));
  if (problemCount > rows.length) say(paint('dim', `${problemCount - rows.length} more: --json`));
}

function tellWarnings({ warnings }: FleetSummary, withinWeeks: number): void {
  say();
  if (warnings.length === 0) say(`No trend meets its limit within ${withinWeeks} weeks.`);
  for (const words of warnings) say(paint('yellow', fold(words, COLUMNS, '  ')));
}

function tellNearest({ nearest, replayed }: FleetSummary): void {
  if (nearest.length === 0) return;
  say();
  const rows = nearest
    .slice(0, NEAREST)
    .map(({ what, left, reading, limit, unit, setting, rig, file }) => [
      what,
      `${figure(100 * left, 3)} %`,
      withUnit(reading, unit),
      withUnit(limit, unit),
      setting,
      rig,
      file,
    ]);
  const head = replayed ? 'nearest limits' : 'extremes nearest to a limit';
  say(table([head, 'left', 'read', 'limit', 'setting', 'rig', 'journal'], rows, [1, 2, 3]));
}

function tellRigs({ rigs }: FleetSummary): void {
  if (rigs.length === 0) return;
  say();
  const rows = rigs.map((r) => [
    r.rig,
    String(r.sessions),
    figure(r.toBatteryKwh),
    `${day(r.firstWallMs)} to ${day(r.lastWallMs)}${r.inventedTimes ? ' (invented)' : ''}`,
    r.versions === 1 ? '' : `its figures were changed: ${r.versions} versions`,
  ]);
  say(table(['rig', 'sessions', 'kWh', 'from, to', ''], rows, [1, 2]));
  const drifts = rigs.flatMap((r) => r.drifts).filter(({ trend }) => trend !== null);
  if (drifts.length === 0) return;
  say();
  say(
    table(
      ['drift', 'figure', 'now', 'a week', 'limit', 'sessions'],
      drifts.map(({ rig, figure: name, unit, trend, limit }) => [
        rig,
        DRIFTING[name].title,
        tell(trend?.now ?? Number.NaN, unit),
        trend?.clear === true
          ? `${trend.slopePerWeek > 0 ? '+' : ''}${figure(trend.slopePerWeek, 3)} ${unit}`
          : 'no trend',
        tell(limit, unit),
        String(trend?.points),
      ]),
      [5],
    ),
  );
}
