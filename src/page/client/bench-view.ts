/** The simulated bench: faults now or to come, those standing, a new train, its speed, and exercises. */
import type { About, Bench, FaultAsk, Me, Snapshot } from './contract.js';
import { button, byId, el, labelled, numberInput, numberOf, replaceWhen, setHidden, setText } from './dom.js';
import { post } from './net.js';
import { mayMakeFaults } from './offers.js';
import type { RefusalView } from './refusal-view.js';
import { figure, plain, sessionTime } from './words.js';

const UNITS: Record<string, string> = { degC: '°C', percent: '%', share: 'share', ohm: 'Ω' };

export class BenchView {
  readonly #about: About;
  readonly #refusals: RefusalView;
  readonly #said = byId('bench-said');
  readonly #may: boolean;
  #speedChoice: HTMLSelectElement | null = null;

  constructor(about: About, me: Me, refusals: RefusalView) {
    this.#about = about;
    this.#refusals = refusals;
    setHidden(byId('bench'), !about.simulated);
    const may = mayMakeFaults(me, about);
    this.#may = may;
    byId('bench-forms').replaceChildren(
      ...(may ? [this.#speed(), this.#fault(), this.#hands(), this.#exercises()] : []),
    );
    setText(byId('bench-note'), may ? '' : 'Faults, speed and exercises are made by an engineer.');
  }

  draw(snapshot: Snapshot): void {
    const bench = snapshot.bench;
    if (bench === null) return;
    setText(byId('bench-speed'), `Simulated, at ${bench.speed} × real time`);
    const choice = this.#speedChoice;
    // Not while somebody is choosing.
    if (choice !== null && document.activeElement !== choice) choice.value = String(bench.speed);
    replaceWhen(byId('bench-faults'), JSON.stringify(bench.faults), () => this.#standing(bench));
    replaceWhen(byId('bench-exercise'), JSON.stringify(bench.exercise), () => this.#exercise(bench));
  }

  #standing(bench: Bench): HTMLElement[] {
    if (bench.faults.length === 0) return [el('li', {}, 'No fault stands, none is to come.')];
    return bench.faults.map((f) => {
      const known = this.#about.faults.find((k) => k.fault === f.fault);
      const size =
        f.magnitude === null || known === undefined || known.unit === ''
          ? ''
          : ` ${figure(f.magnitude, known.unit)}`;
      const when =
        f.awaits === null
          ? `stands${f.sinceMs === null ? '' : ` since ${sessionTime(f.sinceMs)}`}`
          : `waits for “${this.#about.phases.find((p) => p.phase === f.awaits)?.text ?? plain(f.awaits)}”`;
      return el(
        'li',
        {},
        el('span', { class: 'shape', 'aria-hidden': 'true' }, f.awaits === null ? '◆ ' : '◇ '),
        el('strong', {}, `${plain(f.fault)}${f.part === '' ? '' : ` (${f.part})`}${size}`),
        ` ${when}`,
      );
    });
  }

  #exercise(bench: Bench): HTMLElement[] {
    const e = bench.exercise;
    if (e === null) return [];
    return [
      el('h3', {}, `Exercise: ${e.title}`),
      el('p', {}, el('strong', {}, 'Goal: '), e.goal),
      ...(e.debrief === null
        ? [
            el('p', {}, 'Under way.'),
            ...(this.#may
              ? [
                  button(
                    'End this exercise',
                    () => void this.#ask('end the exercise', '/api/bench/debrief', {}),
                  ),
                ]
              : []),
          ]
        : [
            el(
              'p',
              {},
              el('strong', {}, e.debrief.reached ? '■ Reached. ' : '□ Not reached. '),
              'What happened:',
            ),
            el('ul', {}, ...e.debrief.lines.map((line) => el('li', {}, line))),
          ]),
    ];
  }

  async #ask(words: string, path: string, body: object): Promise<void> {
    const answer = await post(path, body);
    setText(this.#said, answer.ok ? `Done: ${words}.` : `Not done: ${words}.`);
    if (answer.problem !== null) this.#refusals.problem(words, answer.problem);
  }

  #speed(): HTMLElement {
    const choice = el('select', {}, ...this.#about.speeds.map((s) => el('option', { value: s }, `${s} ×`)));
    choice.addEventListener(
      'change',
      () => void this.#ask(`speed ${choice.value} ×`, '/api/bench/speed', { speed: Number(choice.value) }),
    );
    this.#speedChoice = choice;
    return labelled('Speed', choice);
  }

  #hands(): HTMLElement {
    return el(
      'div',
      { class: 'hands' },
      button('Take all faults back', () => void this.#ask('take all faults back', '/api/bench/clear', {})),
      button('New train', () => void this.#ask('a new train', '/api/bench/renew', {})),
    );
  }

  #fault(): HTMLElement {
    const which = el(
      'select',
      {},
      ...this.#about.faults.map((f) => el('option', { value: f.fault }, plain(f.fault))),
    );
    const magnitude = numberInput();
    const unit = el('span', { class: 'unit' });
    const part = el('input', { type: 'text', maxlength: 40 });
    const when = el(
      'select',
      {},
      el('option', { value: '' }, 'now'),
      ...this.#about.phases.map((p) => el('option', { value: p.phase }, `when: ${p.text}`)),
    );
    const after = numberInput({ min: 0, max: 36_000, placeholder: '0' });
    const lasts = numberInput({ min: 0, max: 36_000, placeholder: 'for good' });
    const text = el('p', { class: 'note' });
    const sized = labelled('Magnitude', el('span', { class: 'joined' }, magnitude, unit));
    const parted = labelled('Part', part);
    const chosen = () => this.#about.faults.find((f) => f.fault === which.value);
    const tell = (): void => {
      const f = chosen();
      setText(text, f?.text ?? '');
      setText(unit, UNITS[f?.unit ?? ''] ?? f?.unit ?? '');
      magnitude.value = '';
      magnitude.placeholder = String(f?.magnitude ?? '');
      part.value = '';
      part.placeholder = f?.part ?? '';
      setHidden(sized, f === undefined || f.unit === '');
      setHidden(parted, f === undefined || f.part === null);
    };
    which.addEventListener('change', tell);
    tell();
    const form = el(
      'form',
      { class: 'order', 'aria-label': 'Make a fault' },
      labelled('Fault', which),
      text,
      sized,
      parted,
      labelled('Made', when),
      labelled('After', after, 's'),
      labelled('Lasting', lasts, 's'),
      el('div', { class: 'do' }, el('button', { type: 'submit' }, 'Make this fault')),
    );
    form.addEventListener('submit', (e) => {
      e.preventDefault();
      const [m, a, d] = [numberOf(magnitude), numberOf(after), numberOf(lasts)];
      const ask: FaultAsk = {
        fault: which.value,
        ...(m === null ? {} : { magnitude: m }),
        ...(part.value.trim() === '' ? {} : { part: part.value.trim() }),
        ...(when.value === '' ? {} : { phase: when.value as Exclude<FaultAsk['phase'], undefined> }),
        ...(a === null ? {} : { afterS: a }),
        ...(d === null ? {} : { durationS: d }),
      };
      void this.#ask(`fault ${plain(ask.fault)}`, '/api/bench/faults', ask);
    });
    return form;
  }

  #exercises(): HTMLElement {
    const which = el(
      'select',
      {},
      ...this.#about.exercises.map((e) => el('option', { value: e.name }, e.title)),
    );
    const goal = el('p', { class: 'note' });
    const tell = (): void =>
      setText(goal, this.#about.exercises.find((e) => e.name === which.value)?.goal ?? '');
    which.addEventListener('change', tell);
    tell();
    return el(
      'div',
      { class: 'order' },
      labelled('Exercise', which),
      goal,
      button(
        'Begin this exercise',
        () => void this.#ask('begin the exercise', '/api/bench/exercise', { exercise: which.value }),
      ),
    );
  }
}
