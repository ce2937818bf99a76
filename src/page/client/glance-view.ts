/** What must be read from across the workshop: state, phase, volts, amps; and the trip that stands. */
import type { About, Snapshot } from './contract.js';
import { byId, el, replaceWhen, setAttribute, setHidden, setText } from './dom.js';
import { fresh, nearVolts, phaseWords, situation, tripWords } from './situation.js';
import { figure, fixed, lasting, plain, sessionTime } from './words.js';

/** Digits alone, the unit stands beside them; a question mark where nothing is known. */
const digits = (value: number | null, decimals: number): string =>
  value === null || !Number.isFinite(value) ? '?' : fixed(value, decimals);

const limitWords = (name: string): string => (name === '' ? 'no limit binds' : plain(name));

/** The state of charge over all rafts that report one: the least of them, since it says how far the whole is. */
function leastSoc(about: About, snapshot: Snapshot): number | null {
  const all = about.rig.rafts.map((_, i) => fresh(snapshot, `raft${i + 1}`, 'soc')).filter((s) => s !== null);
  return all.length === 0 ? null : Math.min(...all);
}

const OUTCOMES = { released: 'Released', tripped: 'Tripped', refused: 'Refused' } as const;

function endWords(snapshot: Snapshot): string {
  const e = snapshot.ended;
  if (e === null) return '';
  // Only a plug that is freed has its residual voltage told.
  const left = e.residualV === null ? [] : [`${figure(e.residualV, 'V')} left`];
  return [
    `Last session: ${OUTCOMES[e.outcome]} (${plain(e.endReason)}, exit ${e.exit})`,
    `${figure(e.energyToBatteryKwh, 'kWh')} in ${lasting(e.durationS)}`,
    ...left,
    e.journal,
  ].join(' · ');
}

export class GlanceView {
  readonly #about: About;
  constructor(about: About) {
    this.#about = about;
  }

  draw(snapshot: Snapshot): void {
    const now = situation(this.#about, snapshot);
    const box = byId('glance');
    setAttribute(box, 'data-kind', now.kind);
    setText(byId('state-shape'), now.shape);
    setText(byId('state-word'), now.word);
    setText(byId('state-detail'), now.detail);
    setText(byId('phase-word'), plain(snapshot.phase));
    const since = snapshot.running === null ? 'nothing runs' : `for ${lasting(snapshot.phaseS)}`;
    const by = snapshot.by === null ? '' : ` · ${plain(snapshot.running ?? 'start')} by ${snapshot.by}`;
    const session = snapshot.sessionMs === null ? '' : ` · session ${sessionTime(snapshot.sessionMs)}`;
    const words = phaseWords(this.#about, snapshot.phase);
    setText(byId('phase-detail'), `${words} · ${since}${by}${session}`);
    setText(byId('big-volts'), digits(nearVolts(snapshot, this.#about.rig.safeV), 0));
    setText(byId('big-amps'), digits(fresh(snapshot, 'meter', 'currentA'), 0));
    setText(
      byId('volts-detail'),
      `output ${figure(fresh(snapshot, 'meter', 'outputV'), 'V')} · plug ${figure(fresh(snapshot, 'meter', 'plugV'), 'V')}`,
    );
    const setpoint = figure(snapshot.setpointA, 'A').replace('not read', 'none');
    setText(byId('amps-detail'), `set-point ${setpoint}`);
    setText(
      byId('limit-detail'),
      snapshot.leastA === null
        ? 'no limit binds'
        : `least limit ${figure(snapshot.leastA, 'A')}: ${limitWords(snapshot.binding)}`,
    );
    const soc = leastSoc(this.#about, snapshot);
    setText(byId('big-soc'), soc === null ? '?' : (soc * 100).toFixed(1));
    setText(
      byId('energy-detail'),
      snapshot.energyToBatteryKwh === null
        ? 'no energy yet'
        : `${figure(snapshot.energyToBatteryKwh, 'kWh')} into the battery`,
    );
    const ended = byId('last-end');
    setHidden(ended, snapshot.ended === null);
    setText(ended, endWords(snapshot));
    this.#trip(snapshot);
  }

  /** Said by readers once when it comes, since its text then stays the same. */
  #trip(snapshot: Snapshot): void {
    const box = byId('trip');
    const stands = snapshot.tripped || snapshot.latch !== null;
    const code = snapshot.latch?.code ?? '';
    const dead = snapshot.latch?.provenDead;
    const key = stands ? `${snapshot.tripped} ${code} ${dead} ${snapshot.phase === 'not-proven-dead'}` : '';
    if (!stands) setHidden(box, true);
    replaceWhen(box, key, () => {
      if (!stands) return [];
      const keepAway = snapshot.phase === 'not-proven-dead' || dead === false;
      const remedy = this.#about.codes[code]?.remedy;
      return [
        el(
          'h2',
          {},
          el('span', { class: 'shape', 'aria-hidden': 'true' }, '✕ '),
          keepAway ? 'Tripped, not proven dead: keep away' : `Tripped: ${tripWords(this.#about, snapshot)}`,
        ),
        el(
          'p',
          {},
          [
            code === ''
              ? ''
              : `First: ${code}${snapshot.latch === null ? '' : `, in ${plain(snapshot.latch.phase)}`}.`,
            keepAway ? `${tripWords(this.#about, snapshot)}.` : '',
            dead === true ? 'It was proven dead.' : '',
            remedy === undefined ? '' : `What to do: ${remedy}.`,
            'Nothing starts until a named person acknowledges it.',
          ]
            .filter((t) => t !== '')
            .join(' '),
        ),
      ];
    });
    if (stands) setHidden(box, false);
  }
}
