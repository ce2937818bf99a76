/** The drift of each rig as a picture: a row a rig, a column a figure, in black and white. */
import { DRIFTING, DRIFTING_NAMES, type Drift } from '../fleet/drift.js';
import type { FleetSummary, RigSummary } from '../fleet/summary.js';
import { MS_PER_WEEK } from '../fleet/trend.js';
import { specToSvg } from '../paper/svg.js';
import { writeOut } from './write-out.js';

/** A picture with more rows is read by nobody. */
const MOST_RIGS = 12;
/** More points in a panel show nothing more. */
const MOST_POINTS = 400;
const PANEL = { width: 260, height: 150 };
const UNIT_SHOWN: Readonly<Record<string, string>> = { ohm: 'Ω', uS: 'µS' };

/** @returns null when no rig has a figure to show */
export function driftSpec(summary: FleetSummary): Record<string, unknown> | null {
  const rigs = summary.rigs.filter(({ drifts }) => drifts.some(({ values }) => values.length > 0));
  if (rigs.length === 0) return null;
  // Those nearest to a limit come first: they are what the picture is for.
  const shown = [...rigs].sort((a, b) => soonest(a) - soonest(b)).slice(0, MOST_RIGS);
  const left = rigs.length - shown.length;
  return {
    $schema: 'https://vega.github.io/schema/vega-lite/v6.json',
    title: {
      text: 'Drift of each rig',
      subtitle: [
        'dots: a session each; solid: least-squares line, only where it stands clear of the scatter; dashed: the limit, where it is in reach',
        ...(left > 0 ? [`${left} more rigs, all later to meet a limit, are not shown`] : []),
      ],
      anchor: 'start',
    },
    background: 'white',
    vconcat: shown.map((rig) => ({
      title: {
        text: `${rig.rig}${rig.inventedTimes ? ' (rehearsals: times are invented)' : ''}`,
        anchor: 'start',
      },
      hconcat: DRIFTING_NAMES.flatMap((name) => {
        const drift = rig.drifts.find(({ figure }) => figure === name);
        return drift === undefined ? [] : [panel(drift)];
      }),
    })),
    config: { axis: { labelFontSize: 11, titleFontSize: 11 }, view: { stroke: '#888' } },
  };
}

const soonest = ({ drifts }: RigSummary): number =>
  Math.min(...drifts.map(({ weeksToLimit }) => weeksToLimit ?? Number.POSITIVE_INFINITY));

function panel({ figure, unit, values, wallMs, limit, trend }: Drift): Record<string, unknown> {
  const step = Math.max(1, Math.ceil(values.length / MOST_POINTS));
  const points = Array.from({ length: Math.ceil(values.length / step) }, (_, k) => ({
    t: wallMs[k * step],
    y: values[k * step],
  }));
  const firstMs = Math.min(...wallMs);
  const lastMs = Math.max(...wallMs);
  const most = Math.max(...values);
  // A limit far above would press the points flat; its figure stands in the title.
  const inReach = limit <= LIMIT_IN_REACH * most;
  const x = {
    field: 't',
    type: 'temporal',
    // So that no dot is cut by the frame.
    scale: { type: 'utc', padding: 8 },
    title: null,
    axis: { tickCount: 4, format: lastMs - firstMs > YEAR_MS ? '%b %Y' : '%d %b', labelFlush: true },
  };
  const y = {
    field: 'y',
    type: 'quantitative',
    title: UNIT_SHOWN[unit] ?? unit,
    scale: {
      zero: true,
      domainMin: 0,
      domainMax: 1.1 * (inReach ? Math.max(limit, most) : most || 1),
      nice: false,
    },
  };
  const line =
    trend?.clear !== true
      ? []
      : [
          {
            data: {
              values: [
                { t: firstMs, y: trend.now - (trend.slopePerWeek * (lastMs - firstMs)) / MS_PER_WEEK },
                { t: lastMs, y: trend.now },
              ],
            },
            mark: { type: 'line', color: 'black', strokeWidth: 1.5, clip: true },
            encoding: { x, y },
          },
        ];
  const bound = inReach
    ? [
        {
          data: { values: [{ y: limit }] },
          mark: { type: 'rule', color: 'black', strokeDash: [6, 4], strokeWidth: 1.5 },
          encoding: { y },
        },
      ]
    : [];
  return {
    title: {
      text: DRIFTING[figure].title,
      subtitle: `limit ${Number(limit.toPrecision(3))} ${UNIT_SHOWN[unit] ?? unit}`,
      fontSize: 12,
      fontWeight: 'normal',
    },
    ...PANEL,
    layer: [
      {
        data: { values: points },
        mark: { type: 'point', filled: false, color: 'black', size: 26, strokeWidth: 1 },
        encoding: { x, y },
      },
      ...line,
      ...bound,
    ],
  };
}

/** Times the greatest figure. */
const LIMIT_IN_REACH = 6;
const YEAR_MS = 365 * 24 * 3_600_000;

/** @returns false when there is nothing to draw @throws InputError when it cannot be written */
export async function writeDriftPlot(file: string, summary: FleetSummary): Promise<boolean> {
  const spec = driftSpec(summary);
  if (spec === null) return false;
  const svg = await specToSvg(spec);
  writeOut(file, `${svg}\n`);
  return true;
}
