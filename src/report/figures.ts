/** Which figures a report has, from what was collected: over the whole session, around the trip, and the pilot. */
import { openBelowA } from '../checks/loop-figures.js';
import { figure } from '../host/words.js';
import type { Band, FigureChart, Line, Note, Point, Rule, Sign } from '../paper/chart.js';
import type { Rig } from '../rig/schema.js';
import { AFTER_MS, BEFORE_MS } from './close-up.js';
import { type Collected, JUDGED, type TraceName } from './collect.js';

export interface Figure {
  readonly id: string;
  readonly title: string;
  /** What is seen and where it comes from, below the figure. */
  readonly caption: string;
  readonly chart: FigureChart;
  /** Said instead when there is nothing to draw. */
  readonly otherwise: string;
}

interface Trace {
  readonly name: TraceName;
  readonly label: string;
  /** From the unit of the reading to that of the axis. */
  readonly scale?: number;
}

interface Kind {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  readonly traces: readonly Trace[];
  readonly caption: string;
  readonly fromZero?: boolean;
  readonly leastSpan?: number;
  readonly log?: boolean;
  readonly rules?: (rig: Rig) => readonly Rule[];
  /** Also shown around the trip. */
  readonly closeUp?: true;
}

const KILO = 1e-3;
const MILLI = 1e3;

const KINDS: readonly Kind[] = [
  {
    id: 'volts',
    title: 'Volts',
    unit: 'V',
    fromZero: true,
    leastSpan: 20,
    closeUp: true,
    traces: [
      { name: 'outputV', label: 'output' },
      { name: 'plugV', label: 'plug' },
      { name: 'trainV', label: 'train bus' },
    ],
    caption:
      'Output: converter side of the contactors; plug: between contactors and train, both by the meter of the ' +
      'charger; train bus as the train says.',
  },
  {
    id: 'amps',
    title: 'Amps, set-point and the limit that bound',
    unit: 'A',
    fromZero: true,
    leastSpan: 10,
    closeUp: true,
    traces: [
      { name: 'meterA', label: 'meter' },
      { name: 'converterA', label: 'converter' },
      { name: 'setpointA', label: 'set-point' },
      { name: 'leastLimitA', label: 'least limit' },
    ],
    caption:
      'Meter and converter measure independently. The set-point is as ordered; the least limit as decided anew ' +
      'from the record, while the governor was at work, with the name of the limit where it began to govern.',
  },
  {
    id: 'temperatures',
    title: 'Temperatures',
    unit: '°C',
    leastSpan: 5,
    traces: [
      { name: 'contactC', label: 'contact' },
      { name: 'cableC', label: 'cable' },
      { name: 'hottestC', label: 'hottest cell' },
      { name: 'coldestC', label: 'coldest cell' },
    ],
    caption: 'Contact: the hottest of plug or shoes; cells: over all rafts.',
  },
  {
    id: 'soc',
    title: 'State of charge',
    unit: '%',
    leastSpan: 1,
    traces: [
      { name: 'mostSoc', label: 'highest raft', scale: 100 },
      { name: 'leastSoc', label: 'lowest raft', scale: 100 },
    ],
    caption: 'As the management units of the rafts say.',
  },
  {
    id: 'isolation',
    title: 'Isolation',
    unit: 'kΩ, log.',
    log: true,
    traces: [
      { name: 'isolationOhm', label: 'measured', scale: KILO },
      { name: 'raftIsolationOhm', label: 'least of the rafts', scale: KILO },
    ],
    rules: ({ isolation: { minOhmPerVolt, warnOhmPerVolt, workingVoltageV } }) => [
      { name: 'limit', y: minOhmPerVolt * workingVoltageV * KILO },
      { name: 'warning', y: warnOhmPerVolt * workingVoltageV * KILO },
    ],
    caption:
      'Measured: the figure held against the limit, the unfavourable way, as decided anew from the record; it stands ' +
      'until the next measurement. Least of the rafts: the lowest figure of their own. Dead networks are measured before the train is joined, the live one afterwards.',
  },
  {
    id: 'pilot',
    title: 'Pilot current',
    unit: 'mA',
    fromZero: true,
    leastSpan: 2,
    closeUp: true,
    traces: [
      { name: 'pilotRmsA', label: 'r.m.s.', scale: MILLI },
      { name: 'pilotMeanA', label: 'mean', scale: MILLI },
      { name: 'pilotPositiveA', label: 'positive peak', scale: MILLI },
      { name: 'pilotNegativeA', label: 'negative peak', scale: MILLI },
    ],
    rules: ({ pilot }) => (pilot === undefined ? [] : [{ name: 'open below', y: openBelowA(pilot) * MILLI }]),
    caption:
      'Features of each window of the pilot current. A sound loop conducts one way: mean and positive peak stand, ' +
      'the negative peak stays about zero; an r.m.s. below the line across is an open loop.',
  },
];

/** Seconds up to a quarter of an hour, minutes to three hours, then hours. */
function timeUnit(endMs: number): { readonly perMs: number; readonly name: string } {
  if (endMs <= 900_000) return { perMs: 1e-3, name: 's' };
  if (endMs <= 3 * 3_600_000) return { perMs: 1 / 60_000, name: 'min' };
  return { perMs: 1 / 3_600_000, name: 'h' };
}

export function sessionFigures(collected: Collected): Figure[] {
  const { endMs, traces, rig } = collected;
  const { perMs, name } = timeUnit(endMs);
  const x: FigureChart['x'] = [0, Math.max(endMs, 1) * perMs];
  const bands = bandsOf(collected, 0, perMs);
  const signs = signsOf(collected, 0, perMs);
  return KINDS.map((kind) => {
    const lines = kind.traces.map(({ name: trace, label, scale = 1 }) =>
      lineOf(label, traces[trace].points(perMs, untilMs(collected, trace)), scale, traces[trace].holds),
    );
    const made = figureOf(kind, rig, lines, `time since the first record, ${name}`, x, bands, signs);
    if (kind.id !== 'amps') return made;
    return { ...made, chart: { ...made.chart, notes: notesOf(collected, perMs) } };
  });
}

/** Names of the limits, at the value each began with. */
const notesOf = ({ governed, endMs }: Collected, perMs: number): Note[] =>
  governed.flatMap(({ limit, currentA, atMs }, i) =>
    currentA === null || !(currentA > 0)
      ? []
      : [{ x: atMs * perMs, y: currentA, text: limit, until: (governed[i + 1]?.atMs ?? endMs) * perMs }],
  );

/** Empty without a trip. */
export function tripFigures(collected: Collected): Figure[] {
  const { tripMs, closeUps, rig } = collected;
  if (tripMs === null) return [];
  const x: FigureChart['x'] = [-BEFORE_MS / 1000, AFTER_MS / 1000];
  const bands = bandsOf(collected, tripMs, KILO);
  const signs = signsOf(collected, tripMs, KILO);
  return KINDS.filter((kind) => kind.closeUp).map((kind) => {
    const lines = kind.traces.map(({ name, label, scale = 1 }) =>
      lineOf(label, closeUps[name].points(untilMs(collected, name)), scale, closeUps[name].holds),
    );
    const near = { ...kind, id: `trip-${kind.id}`, title: `${kind.title}, around the trip`, caption: '' };
    return figureOf(near, rig, lines, 'seconds from the trip', x, bands, signs);
  });
}

function figureOf(
  { id, title, unit, caption, fromZero, leastSpan, log, rules }: Kind,
  rig: Rig | null,
  lines: readonly Line[],
  xTitle: string,
  x: FigureChart['x'],
  bands: readonly Band[],
  signs: readonly Sign[],
): Figure {
  const limits = rig === null || rules === undefined ? [] : rules(rig);
  return {
    id,
    title,
    caption,
    otherwise:
      id.endsWith('pilot') && rig !== null && rig.pilot === undefined
        ? 'This rig has no pilot loop: presence is read from the sense contacts of its shoes.'
        : 'Nothing of it could be read in this record.',
    chart: {
      unit,
      xTitle,
      x,
      lines,
      rules: limits.filter(({ y }) => Number.isFinite(y)),
      bands,
      signs,
      ...(fromZero ? { fromZero } : {}),
      ...(leastSpan === undefined ? {} : { leastSpan }),
      ...(log ? { log } : {}),
    },
  };
}

/** Until when a value that holds is known to. */
const untilMs = ({ endMs, judgedMs }: Collected, name: TraceName): number =>
  JUDGED.includes(name) ? judgedMs : endMs;

const lineOf = (name: string, points: readonly Point[], scale: number, holds: boolean): Line => ({
  name,
  points: points.map(([x, y]) => [x, y === null ? null : y * scale]),
  holds,
});

const bandsOf = ({ phases }: Collected, zeroMs: number, perMs: number): Band[] =>
  phases.map(({ name, fromMs, toMs }, i) => ({
    number: i + 1,
    name,
    from: (fromMs - zeroMs) * perMs,
    to: (toMs - zeroMs) * perMs,
  }));

const signsOf = ({ marks }: Collected, zeroMs: number, perMs: number): Sign[] =>
  marks.map(({ kind, atMs, text }) => ({ kind, x: (atMs - zeroMs) * perMs, text }));

/** The pilot current as sampled at the trip; empty where no device sent it. */
export function waveFigure({ burst, rig }: Collected): Figure[] {
  if (burst === null || burst.samplesA.length === 0) return [];
  const { samplesA, spacingS, atTrip, parts } = burst;
  const points = samplesA.map((a, i): Point => [i * spacingS * 1000, Number.isFinite(a) ? a * MILLI : null]);
  const pilot = rig?.pilot;
  const peakA =
    pilot === undefined
      ? Number.NaN
      : (pilot.sourceVrms * Math.SQRT2 - pilot.diodeDropV) / (pilot.sourceOhm + pilot.coreOhm);
  const missing = parts[0] < parts[1] ? ` ${parts[1] - parts[0]} of ${parts[1]} parts did not come.` : '';
  const made: Figure = {
    id: 'wave',
    title: atTrip
      ? 'Pilot current as sampled when the device latched'
      : 'Pilot current as sampled on request',
    caption:
      `${samplesA.length} samples, one every ${figure(spacingS * 1e6)} µs.${missing} ` +
      (Number.isFinite(peakA)
        ? `The line across is the peak a sound loop of this rig has, ${figure(peakA * MILLI)} mA.`
        : ''),
    otherwise: 'No sample of it could be read.',
    chart: {
      unit: 'mA',
      xTitle: 'time since the first sample, ms',
      x: [0, Math.max(1e-3, (samplesA.length - 1) * spacingS * 1000)],
      lines: [{ name: 'pilot current', points }],
      rules: Number.isFinite(peakA) ? [{ name: 'sound peak', y: peakA * MILLI }] : [],
      fromZero: true,
    },
  };
  return [made];
}
