/** The traces: four charts over one time, one cursor and one read-out, followed or looked at in peace. */
import { button, byId, el, setAttribute, setText } from './dom.js';
import { type ChartSpec, DASHED, DOTTED, Plot, readPalette, SOLID } from './plot.js';
import type { Field, TraceStore } from './trace-store.js';
import { between, following, moved, nearest, SPANS_S, shownRange, type View, zoomed } from './view-span.js';
import { figure, plain, sessionTime } from './words.js';

const CLOSER = 0.5;
const STEP = 0.25;

const unit =
  (u: string) =>
  (_: Field, v: number | null): string =>
    figure(v, u);
const round = (v: number): string => String(Math.round(v));
/** From nothing, with room above. */
const fromZero =
  (least: number) =>
  (min: number, max: number): readonly [number, number] => [
    Math.min(0, min * 1.08),
    Math.max(least, max * 1.08),
  ];

export class TracesView {
  readonly #store: TraceStore;
  readonly #plots: Plot[];
  readonly #readout = byId('readout');
  readonly #followBox = el('input', { type: 'checkbox', id: 'follow' });
  readonly #spans: HTMLButtonElement[];
  #view: View = following(300);
  #cursor: number | null = null;
  #stale = true;
  #told = true;

  constructor(store: TraceStore) {
    this.#store = store;
    readPalette();
    const hands = {
      cursorAt: (index: number | null): void => {
        this.#cursor = index;
        this.#told = false;
      },
      chosen: (from: number, to: number): void => this.#look(between(from, to)),
      reset: (): void => this.reset(),
    };
    // Side by side they stand in two columns: each column has its times below.
    const specs = this.#specs();
    this.#plots = specs.map((spec, i) => new Plot(spec, store, hands, i % 2 === 1));
    const charts = byId('charts');
    charts.replaceChildren(...this.#plots.map((p) => p.block));
    charts.addEventListener('keydown', (e) => this.#key(e));
    const sized = new ResizeObserver(() => {
      for (const plot of this.#plots) plot.resize();
      this.#stale = true;
    });
    for (const plot of this.#plots) sized.observe(plot.host);
    this.#spans = SPANS_S.map((s) =>
      button(s < 3600 ? `${s / 60} min` : '1 h', () => this.#look(following(s)), { 'aria-pressed': 'false' }),
    );
    this.#followBox.addEventListener('change', () =>
      this.#look(this.#followBox.checked ? following(this.#view.spanS) : this.#standing()),
    );
    byId('trace-hands').replaceChildren(
      el('label', { class: 'tick' }, this.#followBox, el('span', {}, 'Follow')),
      ...this.#spans,
      button('+', () => this.#look(zoomed(this.#view, CLOSER, this.#most())), { 'aria-label': 'Closer' }),
      button('−', () => this.#look(zoomed(this.#view, 1 / CLOSER, this.#most())), { 'aria-label': 'Wider' }),
      button('‹', () => this.#move(-STEP), { 'aria-label': 'Earlier' }),
      button('›', () => this.#move(STEP), { 'aria-label': 'Later' }),
      button('Reset', () => this.reset()),
    );
    this.#look(this.#view);
  }

  #specs(): ChartSpec[] {
    const bound = (index: number): string => {
      const name = this.#store.bindingAt(index);
      return name === '' ? '' : ` (${plain(name)})`;
    };
    return [
      {
        title: 'Volts',
        share: 3,
        lines: [
          { field: 'outputV', name: 'output', look: SOLID },
          { field: 'plugV', name: 'plug', look: DASHED },
          { field: 'trainV', name: 'train', look: DOTTED },
        ],
        range: fromZero(60),
        tick: (v) => `${round(v)} V`,
        value: unit('V'),
      },
      {
        title: 'Amps',
        share: 4,
        lines: [
          { field: 'currentA', name: 'current', look: SOLID },
          { field: 'setpointA', name: 'set-point', look: DASHED },
          { field: 'leastA', name: 'limit', look: DOTTED },
        ],
        range: fromZero(10),
        tick: (v) => `${round(v)} A`,
        value: (field, v, index) => figure(v, 'A') + (field === 'leastA' ? bound(index) : ''),
      },
      {
        title: 'Heat',
        share: 2,
        lines: [
          { field: 'cableC', name: 'conductor', look: SOLID },
          { field: 'contactC', name: 'contact', look: DASHED },
          { field: 'cellMaxC', name: 'cell', look: DOTTED },
        ],
        range: (min, max) => [Math.floor(min / 5) * 5 - 1, Math.ceil(max / 5) * 5 + 1],
        tick: (v) => `${round(v)} °C`,
        value: unit('degC'),
      },
      {
        title: 'State of charge',
        share: 2,
        lines: [{ field: 'soc', name: 'least raft', look: SOLID }],
        range: (min, max) => [Math.max(0, min - 0.01), Math.min(1, max + 0.01)],
        tick: (v) => `${(v * 100).toFixed(1)} %`,
        value: unit('share'),
      },
    ];
  }

  /** New points have come; they are drawn with the next frame. */
  changed(): void {
    this.#stale = true;
    this.#told = false;
  }

  /** Called once a frame; draws only what is not drawn yet. */
  frame(): void {
    if (this.#stale) {
      this.#stale = false;
      const [from, to] = shownRange(this.#view, this.#store.endS);
      for (const plot of this.#plots) plot.draw(from, to);
    }
    if (!this.#told) {
      this.#told = true;
      this.#tell();
    }
  }

  recolour(): void {
    readPalette();
    for (const plot of this.#plots) plot.redraw();
  }

  reset(): void {
    this.#look(following(300));
  }
  toggleFollow(): void {
    this.#look(this.#view.follow ? this.#standing() : following(this.#view.spanS));
  }

  #standing(): View {
    return { follow: false, spanS: this.#view.spanS, endS: this.#store.endS };
  }
  #most(): number {
    return Math.max(3600, this.#store.endS - this.#store.startS);
  }
  #move(share: number): void {
    this.#look(moved(this.#view, share, this.#store.startS, this.#store.endS));
  }

  #look(view: View): void {
    this.#view = view;
    this.#followBox.checked = view.follow;
    this.#spans.forEach((b, i) => {
      setAttribute(b, 'aria-pressed', String(view.follow && view.spanS === SPANS_S[i]));
    });
    this.#stale = true;
  }

  #tell(): void {
    const { x } = this.#store;
    const at = this.#cursor === null ? x.length - 1 : Math.min(this.#cursor, x.length - 1);
    for (const plot of this.#plots) plot.legend(at);
    const when = x[at];
    if (when === undefined) {
      setText(this.#readout, 'No points yet.');
      return;
    }
    const bound = this.#store.bindingAt(at);
    setText(
      this.#readout,
      [
        `${this.#cursor === null ? 'Newest' : 'Cursor'} at ${sessionTime(this.#store.sessionMsAt(when), true)}`,
        bound === '' ? '' : `bound by ${plain(bound)}`,
      ]
        .filter((t) => t !== '')
        .join(' · '),
    );
  }

  /** With the charts in focus: arrows move the cursor, shift and arrows the view, plus and minus zoom. */
  #key(e: KeyboardEvent): void {
    const acts: Record<string, () => void> = {
      '+': () => this.#look(zoomed(this.#view, CLOSER, this.#most())),
      '=': () => this.#look(zoomed(this.#view, CLOSER, this.#most())),
      '-': () => this.#look(zoomed(this.#view, 1 / CLOSER, this.#most())),
      '0': () => this.reset(),
      ArrowLeft: () => (e.shiftKey ? this.#move(-STEP) : this.#step(-1)),
      ArrowRight: () => (e.shiftKey ? this.#move(STEP) : this.#step(1)),
    };
    const act = e.ctrlKey || e.metaKey || e.altKey ? undefined : acts[e.key];
    if (act === undefined) return;
    e.preventDefault();
    act();
  }

  /** A hundredth of what is shown, or one point. */
  #step(direction: number): void {
    const { x } = this.#store;
    const [from, to] = shownRange(this.#view, this.#store.endS);
    const here = this.#cursor === null ? to : (x[this.#cursor] ?? to);
    const wished = nearest(x, Math.min(to, Math.max(from, here + (direction * this.#view.spanS) / 100)));
    if (wished < 0) return;
    this.#cursor = wished;
    this.#told = false;
    for (const plot of this.#plots) plot.putCursor(x[wished] as number);
  }
}
