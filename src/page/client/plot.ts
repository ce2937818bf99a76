/** One chart of the traces and its legend, on uPlot; and how every chart here looks. */
import uPlot from 'uplot';
import { el, setText, svg } from './dom.js';
import { colour } from './theme.js';
import type { Field, TraceStore } from './trace-store.js';

export interface LineLook {
  readonly dash: readonly number[];
  readonly width: number;
}
export interface Line {
  readonly field: Field;
  readonly name: string;
  readonly look: LineLook;
}

/** Told apart by their strokes, not by colour. */
export const SOLID: LineLook = { dash: [], width: 2 };
export const DASHED: LineLook = { dash: [8, 4], width: 1.6 };
export const DOTTED: LineLook = { dash: [2, 3], width: 1.8 };

export interface ChartSpec {
  readonly title: string;
  readonly lines: readonly Line[];
  /** Range of the ordinate for the least and greatest shown. */
  range(min: number, max: number): readonly [number, number];
  /** A value as it stands at the axis. */
  tick(value: number): string;
  /** A value with its unit; `index` where a limit is named beside it. */
  value(field: Field, value: number | null, index: number): string;
  readonly share: number;
}

interface Palette {
  ink: string;
  grid: string;
}
const palette: Palette = { ink: '', grid: '' };
export function readPalette(): void {
  palette.ink = colour('ink');
  palette.grid = colour('grid');
}

export const AXIS_PX = 58;
const FONT = '13px system-ui, "DejaVu Sans", sans-serif';
export const axis = (more: Partial<uPlot.Axis>): uPlot.Axis => ({
  stroke: () => palette.ink,
  font: FONT,
  grid: { stroke: () => palette.grid, width: 1 },
  ticks: { show: false },
  ...more,
});
export const inkStroke = (): string => palette.ink;

/** A piece of the line as it is drawn in the chart. */
function swatch(look: LineLook): Element {
  return svg(
    'svg',
    { class: 'swatch', viewBox: '0 0 34 8', 'aria-hidden': 'true' },
    svg('line', {
      x1: 1,
      y1: 4,
      x2: 33,
      y2: 4,
      'stroke-width': look.width,
      'stroke-dasharray': look.dash.join(' ') || 'none',
    }),
  );
}

export interface PlotHands {
  cursorAt(index: number | null): void;
  chosen(fromX: number, toX: number): void;
  reset(): void;
}

export class Plot {
  readonly block: HTMLElement;
  readonly #host: HTMLElement;
  readonly #plot: uPlot;
  readonly #spec: ChartSpec;
  readonly #store: TraceStore;
  readonly #values = new Map<Field, HTMLElement>();
  readonly #data: uPlot.AlignedData;

  constructor(spec: ChartSpec, store: TraceStore, hands: PlotHands, last: boolean) {
    this.#spec = spec;
    this.#store = store;
    const names = spec.lines.map((l) => l.name).join(', ');
    this.#host = el('div', { class: 'plot', role: 'img', 'aria-label': `${spec.title} over time: ${names}` });
    const legend = el('dl', { class: 'legend' }, ...spec.lines.map((line) => this.#legendRow(line)));
    this.block = el(
      'div',
      { class: 'chart', 'data-share': spec.share },
      el('div', { class: 'chart-head' }, el('h3', {}, spec.title), legend),
      this.#host,
    );
    this.block.style.flexGrow = String(spec.share);
    // The columns themselves: nothing is copied when a chart is drawn again.
    this.#data = [store.x, ...spec.lines.map((l) => store.columns[l.field])] as unknown as uPlot.AlignedData;
    this.#plot = new uPlot(this.#options(hands, last), this.#data, this.#host);
  }

  #legendRow(line: Line): HTMLElement {
    const value = el('dd', {});
    this.#values.set(line.field, value);
    return el('div', {}, el('dt', {}, swatch(line.look), line.name), value);
  }

  #options(hands: PlotHands, last: boolean): uPlot.Options {
    const { lines, range, tick } = this.#spec;
    return {
      width: 400,
      height: 120,
      legend: { show: false },
      padding: [6, 12, 0, 0],
      scales: {
        x: { time: false, auto: false },
        y: { range: (_, min, max) => [...range(min ?? 0, max ?? 1)] as [number, number] },
      },
      series: [
        {},
        ...lines.map(
          (l): uPlot.Series => ({
            label: l.name,
            stroke: inkStroke,
            width: l.look.width,
            dash: [...l.look.dash],
            points: { show: false },
          }),
        ),
      ],
      axes: [
        axis(
          last
            ? { size: 26, space: 90, values: (_, splits) => splits.map((x) => this.#stamp(x)) }
            : { size: 4, space: 90, values: (_, splits) => splits.map(() => '') },
        ),
        axis({ size: AXIS_PX, space: 26, values: (_, splits) => splits.map(tick) }),
      ],
      cursor: {
        y: false,
        sync: { key: 'traces', scales: ['x', null] },
        drag: { x: true, y: false, setScale: false },
        points: { show: false },
        bind: {
          dblclick: () => () => {
            hands.reset();
            return null;
          },
        },
      },
      hooks: {
        setCursor: [(u) => hands.cursorAt(u.cursor.idx ?? null)],
        setSelect: [(u) => this.#selected(u, hands)],
        drawAxes: [(u) => this.#origins(u)],
      },
    };
  }

  #stamp(x: number): string {
    const ms = this.#store.sessionMsAt(x);
    const s = Math.round(Math.abs(ms) / 1000);
    return `${ms < -500 ? '−' : ''}${Math.floor(s / 60)}:${String(s % 60).padStart(2, '0')}`;
  }

  #selected(u: uPlot, hands: PlotHands): void {
    const { left, width } = u.select;
    if (width < 4) return;
    hands.chosen(u.posToVal(left, 'x'), u.posToVal(left + width, 'x'));
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
  }

  /** A line where a session begins: its time starts again there. */
  #origins(u: uPlot): void {
    const { ctx, bbox } = u;
    ctx.save();
    ctx.fillStyle = palette.ink;
    for (const { fromS } of this.#store.origins.slice(1)) {
      const x = Math.round(u.valToPos(fromS, 'x', true));
      if (x > bbox.left && x < bbox.left + bbox.width) ctx.fillRect(x, bbox.top, 1, bbox.height);
    }
    ctx.restore();
  }

  resize(): void {
    const { clientWidth, clientHeight } = this.#host;
    if (clientWidth > 0 && clientHeight > 0) this.#plot.setSize({ width: clientWidth, height: clientHeight });
  }

  get host(): HTMLElement {
    return this.#host;
  }

  draw(from: number, to: number): void {
    this.#plot.batch((u: uPlot) => {
      u.setData(this.#data, false);
      u.setScale('x', { min: from, max: to });
    });
  }

  redraw(): void {
    this.#plot.redraw(false, true);
  }

  putCursor(x: number): void {
    this.#plot.setCursor({ left: this.#plot.valToPos(x, 'x'), top: 10 }, false);
  }

  legend(index: number): void {
    for (const [field, value] of this.#values)
      setText(value, this.#spec.value(field, this.#store.columns[field][index] ?? null, index));
  }
}
