/**
 * The one-line diagram, from the supply to each raft. Live is a heavy line, under the touch-safe voltage a thin
 * one, and what is not known a broken one with a question mark: never the look of something dead.
 */
import { type Circuit, type Contact, circuit, type SwitchState, standFacts } from './circuit.js';
import type { About, Snapshot } from './contract.js';
import { byId, el, replaceWhen, setAttribute, setText, svg } from './dom.js';
import { potentialWords, type Side, type SideState } from './situation.js';

/** Where things stand, in units of the drawing. */
const W = 1110;
const H = 348;
const P = 122;
const N = 236;
const MID = (P + N) / 2;
const BUS = 872;
const AT = {
  supply: 40,
  breaker: 76,
  converter: 128,
  out: 228,
  capacitor: 288,
  bleeder: 346,
  contactor: 424,
  plug: 484,
  plugBleeder: 534,
  cable: 602,
  socket: 668,
  train: 752,
  bus: 812,
};

type Update = (c: Circuit, safeV: number) => void;

const path = (d: string, attributes: Record<string, string> = {}): SVGPathElement =>
  svg('path', { d, ...attributes });
const text = (x: number, y: number, words: string, anchor = 'middle', kind = 'small'): SVGTextElement =>
  svg('text', { x, y, 'text-anchor': anchor, class: kind }, words);

/** A wire of one side: its weight follows what the side carries. */
function wire(d: string, side: Side, updates: Update[]): SVGElement {
  const line = path(d, { class: 'wire' });
  updates.push((c) => setAttribute(line, 'data-potential', c.sides[side].potential));
  return line;
}

const blades = (x: number, y: number): Record<Contact, string> => ({
  closed: `M${x + 8},${y} h44`,
  open: `M${x + 8},${y} l38,-22`,
  unknown: `M${x + 8},${y} h44`,
});

/** A blade between two points from x to x + 60, and how it is shown. */
function knife(x: number, y: number, r: number, ...beside: SVGElement[]) {
  const blade = path(blades(x, y).closed, { class: 'blade' });
  const ends = [x + 8, x + 52].map((cx) => svg('circle', { cx, cy: y, r }));
  const doubt = text(x + 30, y + 6, '?', 'middle', 'doubt');
  const group = svg('g', { class: 'switch' }, blade, ...ends, doubt, ...beside);
  const show = (now: Contact): void => {
    setAttribute(group, 'data-contact', now);
    setAttribute(blade, 'd', blades(x, y)[now]);
  };
  return { group, show };
}

/** A switch from x to x + 60; `up` puts its words above. */
function contact(
  x: number,
  y: number,
  name: string,
  up: boolean,
  of: (c: Circuit) => SwitchState,
  updates: Update[],
): SVGElement {
  const label = text(x + 30, up ? y - 40 : y + 34, name, 'middle', 'name');
  const words = text(x + 30, up ? y - 22 : y + 52, '');
  const { group, show } = knife(x, y, 5, label, words);
  updates.push((c) => {
    const s = of(c);
    show(s.contact);
    setAttribute(group, 'data-differs', String(s.differs));
    setText(words, s.words);
  });
  return group;
}

/** A side's name and what it carries, in a frame whose border says the same as its words. */
function potential(x: number, width: number, side: Side, title: string, updates: Update[]): SVGElement {
  const frame = svg('rect', { x: x - width / 2, y: 4, width, height: 52, rx: 4, class: 'frame' });
  const words = text(x, 46, '', 'middle', 'value');
  const group = svg('g', { class: 'potential' }, frame, text(x, 23, title, 'middle', 'name'), words);
  updates.push((c, safeV) => {
    const s: SideState = c.sides[side];
    setAttribute(group, 'data-potential', s.potential);
    const shape = s.potential === 'live' ? '▲ ' : s.potential === 'unknown' ? '? ' : '';
    setText(words, shape + potentialWords(s, safeV));
  });
  return group;
}

function source(updates: Update[]): SVGElement[] {
  const supply = [0, 1, 2].map((i) => text(8, MID + 62 + 18 * i, '', 'start'));
  const state = text(AT.converter + 50, MID + 10, '', 'middle', 'value');
  const box = svg('rect', { x: AT.converter, y: P - 24, width: 100, height: N - P + 48, class: 'box' });
  updates.push((c) => {
    supply.forEach((line, i) => {
      setText(line, c.supply.words[i] ?? '');
    });
    setText(state, c.converter.words);
    setAttribute(box, 'data-abnormal', String(c.converter.abnormal));
  });
  return [
    svg('circle', { cx: AT.supply - 8, cy: MID, r: 24, class: 'box' }),
    path(`M${AT.supply - 20},${MID} q6,-14 12,0 t12,0`, { class: 'thin' }),
    text(8, MID - 36, 'supply', 'start', 'name'),
    ...supply,
    path(`M${AT.supply + 16},${MID} H${AT.breaker} M${AT.breaker + 44},${MID} H${AT.converter}`, {
      class: 'thin',
    }),
    box,
    text(AT.converter + 50, MID - 22, 'converter', 'middle', 'name'),
    state,
  ];
}

function breaker(updates: Update[]): SVGElement {
  const x = AT.breaker - 8;
  const words = text(x + 30, MID + 34, '');
  const { group, show } = knife(x, MID, 4, words);
  updates.push((c) => {
    const { contact: now } = c.supply.breaker;
    show(now);
    setText(words, now === 'unknown' ? 'breaker ?' : now);
  });
  return group;
}

/** Capacitor and bleeder of the output, bleeder of the plug: between the poles. */
function shunts(updates: Update[]): SVGElement[] {
  const resistor = (x: number, side: Side): SVGElement[] => [
    wire(`M${x},${P} V${MID - 26} M${x},${MID + 26} V${N}`, side, updates),
    svg('rect', { x: x - 8, y: MID - 26, width: 16, height: 52, class: 'box' }),
  ];
  const out = text(AT.bleeder + 11, MID + 16, '', 'start');
  const plug = text(AT.plugBleeder + 12, MID + 16, '', 'start');
  updates.push((c) => {
    setText(out, c.bleeders.output);
    setText(plug, c.bleeders.plug);
  });
  return [
    wire(`M${AT.capacitor},${P} V${MID - 6} M${AT.capacitor},${MID + 6} V${N}`, 'output', updates),
    path(`M${AT.capacitor - 18},${MID - 6} h36 M${AT.capacitor - 18},${MID + 6} h36`, { class: 'plate' }),
    text(AT.capacitor - 2, MID + 30, 'capacitor', 'middle', 'backed'),
    ...resistor(AT.bleeder, 'output'),
    text(AT.bleeder + 11, MID - 2, 'bleeder', 'start'),
    out,
    ...resistor(AT.plugBleeder, 'plug'),
    text(AT.plugBleeder + 12, MID - 2, 'bleeder', 'start'),
    plug,
  ];
}

/** The way the train charges the capacitor where the converter cannot match: below pole P. */
function precharge(updates: Update[]): SVGElement[] {
  const y = P + 30;
  const x = AT.contactor;
  return [
    wire(`M${x - 6},${P} V${y} H${x + 8}`, 'output', updates),
    wire(`M${x + 52},${y} h10 M${x + 84},${y} h8 V${P}`, 'plug', updates),
    svg('rect', { x: x + 62, y: y - 7, width: 22, height: 14, class: 'box' }),
    contact(x, y, 'pre-charge', false, (c) => c.contactors.pre ?? c.contactors.p, updates),
  ];
}

function connection(about: About, updates: Update[]): SVGElement[] {
  const shoes = about.rig.connection === 'shoes';
  const x = AT.socket;
  const words = text(x, N + 70, '');
  const lock = path('', { class: 'thin' });
  const bolt = svg('rect', { x: x - 11, y: MID - 4, width: 22, height: 18, class: 'bolt' });
  const doubt = text(x, MID + 11, '?', 'middle', 'doubt');
  const group = svg('g', { class: 'plug' }, lock, bolt, doubt);
  const amps = text(AT.cable, P - 18, '', 'middle', 'big');
  updates.push((c) => {
    setText(words, c.plug.words);
    setAttribute(group, 'data-locked', c.plug.locked);
    setAttribute(group, 'data-seated', c.plug.seated);
    // A shackle that is shut, or swung aside.
    setAttribute(
      lock,
      'd',
      c.plug.locked === 'open'
        ? `M${x + 7},${MID - 4} v-10 a7,7 0 0 1 14,0 v4`
        : `M${x - 7},${MID - 4} v-10 a7,7 0 0 1 14,0 v10`,
    );
    setText(amps, c.amps === 'not read' ? 'current ?' : c.amps);
  });
  return [
    ...[P, N].map((y) =>
      svg('rect', { x: AT.cable - 42, y: y - 9, width: 84, height: 18, rx: 9, class: 'cable' }),
    ),
    text(AT.cable, N + 34, shoes ? 'conductor' : 'cable', 'middle', 'name'),
    // Plug pins, or shoes that lie on plates.
    ...[P, N].map((y) =>
      shoes
        ? path(`M${x - 14},${y - 4} h28 M${x - 20},${y + 5} h40`, { class: 'plate' })
        : path(`M${x + 8},${y - 9} h-14 a9,9 0 0 0 0,18 h14 M${x + 10},${y - 9} v18`, { class: 'plate' }),
    ),
    text(x, N + 34, shoes ? 'shoes' : 'plug', 'middle', 'name'),
    words,
    group,
    amps,
  ];
}

function rafts(about: About, updates: Update[]): SVGElement[] {
  const count = Math.max(1, about.rig.rafts.length);
  const top = 62;
  const step = Math.min(84, (H - top - 2) / count);
  const small = step < 56;
  const left = BUS + 68;
  const middle = (i: number): number => top + step * (i + 0.5);
  return [
    wire(`M${BUS},${Math.min(P, middle(0))} V${Math.max(N, middle(count - 1))}`, 'train', updates),
    ...about.rig.rafts.flatMap((r, i) => {
      const y = middle(i);
      const height = Math.min(68, step - 6);
      const line = small ? y + 5 : y - 14;
      const soc = text(W - 10, line, '', 'end', 'value');
      const words = text(left + 10, y + 5, '', 'start');
      const figures = text(left + 10, y + 24, '', 'start');
      const x = BUS + 2;
      const { group, show } = knife(x, y, 4);
      updates.push((c) => {
        const raft = c.rafts[i];
        if (raft === undefined) return;
        show(raft.contact);
        setText(soc, small && raft.words !== 'joined' ? `${raft.words} ${raft.soc}` : raft.soc);
        setText(words, small ? '' : raft.words);
        setText(figures, small ? '' : [raft.volts, raft.amps].filter((t) => t !== '').join(' · '));
      });
      const box = { x: left, y: y - height / 2, width: W - left - 4, height, rx: 4, class: 'box' };
      return [
        path(`M${BUS},${y} h10 M${x + 52},${y} H${left}`, { class: 'thin' }),
        svg('rect', box),
        group,
        text(left + 10, line, r.name, 'start', 'name'),
        soc,
        words,
        figures,
      ];
    }),
  ];
}

/** What the drawing shows, for those who listen. */
const heard = (c: Circuit, safeV: number): string =>
  [
    `Supply ${c.supply.words.join(', ')}, breaker ${c.supply.breaker.words}`,
    `converter ${c.converter.words}`,
    `output ${potentialWords(c.sides.output, safeV)}`,
    ...(c.contactors.pre === null ? [] : [`pre-charge contactor ${c.contactors.pre.words}`]),
    `contactor P ${c.contactors.p.words}, contactor N ${c.contactors.n.words}`,
    `plug ${potentialWords(c.sides.plug, safeV)}, ${c.plug.words}`,
    `train contactors ${c.train.p.words}, ${c.train.n.words}`,
    `train bus ${potentialWords(c.sides.train, safeV)}`,
    ...c.rafts.map((r) => `${r.name} ${r.words} ${r.volts} ${r.soc}`),
  ].join('; ');

export class Diagram {
  readonly #about: About;
  readonly #updates: Update[] = [];
  readonly #svg: SVGSVGElement;

  constructor(about: About) {
    this.#about = about;
    const u = this.#updates;
    const { contactor, plug, train, bus } = AT;
    const rails = [P, N].flatMap((y) => [
      wire(`M${AT.out},${y} H${contactor + 8}`, 'output', u),
      wire(`M${plug - 8},${y} H${train + 8}`, 'plug', u),
      wire(`M${bus - 8},${y} H${BUS}`, 'train', u),
    ]);
    this.#svg = svg(
      'svg',
      { viewBox: `0 0 ${W} ${H}`, role: 'img', 'aria-label': 'Circuit' },
      ...rails,
      ...shunts(u),
      ...(about.rig.matchesVoltage ? [] : precharge(u)),
      ...source(u),
      breaker(u),
      ...connection(about, u),
      ...rafts(about, u),
      contact(contactor, P, 'P', true, (c) => c.contactors.p, u),
      contact(contactor, N, 'N', false, (c) => c.contactors.n, u),
      contact(train, P, 'train P', true, (c) => c.train.p, u),
      contact(train, N, 'train N', false, (c) => c.train.n, u),
      potential(326, 238, 'output', 'output', u),
      potential(AT.cable, 238, 'plug', about.rig.connection === 'shoes' ? 'shoe side' : 'plug', u),
      potential(BUS - 12, 238, 'train', 'train bus', u),
    );
    byId('diagram-drawing').replaceChildren(this.#svg);
  }

  draw(snapshot: Snapshot): void {
    const { safeV } = this.#about.rig;
    const c = circuit(this.#about, snapshot);
    setAttribute(this.#svg, 'data-tripped', String(snapshot.tripped || snapshot.latch !== null));
    setAttribute(this.#svg, 'aria-label', heard(c, safeV));
    for (const update of this.#updates) update(c, safeV);
    const facts = standFacts(this.#about, snapshot);
    const all =
      c.pilot === ''
        ? facts
        : [...facts, { name: 'Pilot', words: c.pilot.replace('pilot ', ''), abnormal: false }];
    replaceWhen(byId('stand-facts'), JSON.stringify(all), () =>
      all.map((f) =>
        el(
          'div',
          f.abnormal ? { class: 'abnormal' } : {},
          el('dt', {}, f.name),
          el('dd', {}, f.abnormal ? `✕ ${f.words}` : f.words),
        ),
      ),
    );
  }
}
