/** What a figure shows, in words, for who cannot see it. */
import { figure } from '../host/words.js';
import type { FigureChart, Sign } from './chart.js';

export function altOf({ title, chart }: { readonly title: string; readonly chart: FigureChart }): string {
  const { lines, unit, x, xTitle, rules = [], signs = [], marks = [] } = chart;
  const told = lines.map(({ name, points }) => {
    const values = points.flatMap(([, y]) => (y === null ? [] : [y]));
    if (values.length === 0) return `${name}: nothing read`;
    let least = Number.POSITIVE_INFINITY;
    let most = Number.NEGATIVE_INFINITY;
    for (const value of values) {
      least = Math.min(least, value);
      most = Math.max(most, value);
    }
    return `${name} from ${figure(least)} to ${figure(most)}, at the end ${figure(values.at(-1) as number)}`;
  });
  const trip = signs.find((s) => s.kind === 'trip');
  const count = (kind: Sign['kind']): number => signs.filter((s) => s.kind === kind).length;
  return [
    `${title}, in ${unit}; ${xTitle} from ${figure(x[0])} to ${figure(x[1])}`,
    ...told,
    ...rules.map(({ name, y }) => `${name} ${figure(y)}`),
    ...(trip === undefined ? [] : [`trip at ${figure(trip.x)} by ${trip.text}`]),
    ...(count('finding') > 0 ? [`${count('finding')} findings marked`] : []),
    ...(count('refusal') > 0 ? [`${count('refusal')} refusals marked`] : []),
    ...(marks.length > 0 ? [`marked: ${marks.map((m) => m.text).join(', ')}`] : []),
  ].join('; ');
}
