/** A session as people read it: a line per phase while it runs, a page at its end. */
import { CATALOGUE } from '../checks/catalogue.js';
import { between } from '../checks/phases.js';
import { FIRST_SEAL } from '../journal/format.js';
import { EXIT_TEXT, exitCodeOf, type Outcome } from '../supervisor/outcome.js';
import { PHASE_TEXT } from '../supervisor/phase-text.js';
import type { Session } from '../supervisor/session.js';
import type { Progress } from '../supervisor/session-types.js';
import { figure, fold, paint, say, withUnit } from './print.js';

/** To the watt-hour: a loss is a difference of two meters, and what is smaller is their resolution. */
const watthours = (kwh: number): string => figure(Math.round(kwh * 1000) / 1000 + 0);

const clock = (atS: number): string => `${atS.toFixed(2).padStart(8)} s`;

/** One line of live figures. */
export function liveFigures(session: Session): string {
  const { seen, setpointA, binding, energyKwh } = session.display;
  const m = seen?.meter?.value;
  const soc = seen?.rafts[0]?.value.soc ?? Number.NaN;
  // Outside the charge no limit binds: nothing may flow.
  const wanted = between(session.phase, 'ramping', 'tapering')
    ? ` of ${figure(setpointA)} A (${binding})`
    : '';
  return (
    `${figure(m?.plugV ?? null)} V  ${figure(m?.currentA ?? null)} A${wanted}  ` +
    `${watthours(energyKwh)} kWh  soc ${figure(soc * 100, 3)} %  cable ${figure(m?.cableC ?? null, 3)} °C`
  );
}

export function tellProgress(what: Progress, session: Session | null): void {
  const at = clock(what.atS);
  if (what.kind === 'phase') {
    const bad = ['tripped-ramping-down', 'making-safe', 'not-proven-dead'].includes(what.phase);
    const name = paint(bad ? 'red' : 'bold', what.phase.padEnd(20));
    const figures = session?.display.seen?.meter ? `  ${paint('dim', liveFigures(session))}` : '';
    say(`${at}  ${name}  ${PHASE_TEXT[what.phase]}${figures}`);
  } else if (what.kind === 'trip') {
    const { code, part, phase, reading, limit, unit, setting } = what.trip;
    const where = part === null ? '' : ` (${part})`;
    say(
      `${at}  ${paint('red', `TRIP ${code}`)}${where} in ${phase}: read ${withUnit(reading, unit)}, limit ${withUnit(limit, unit)} [${setting}]`,
    );
    say(`            ${CATALOGUE[code].text}; ${CATALOGUE[code].remedy}`);
  } else if (what.kind === 'refusal') {
    const { code, part, asked, by, reading, limit, unit, setting, text, remedy } = what.refusal;
    const figures =
      reading === null
        ? ''
        : ` Read ${withUnit(reading, unit)}, limit ${withUnit(limit, unit)} [${setting}].`;
    say(
      `${at}  ${paint('yellow', `REFUSED ${asked}`)} by ${by}: ${code}${part === null ? '' : ` (${part})`}: ${text}.${figures}`,
    );
    say(`            To permit it: ${remedy}.`);
  } else if (what.kind === 'finding') {
    const { code, part } = what.finding;
    const { effect, text } = CATALOGUE[code];
    if (effect === 'note' || effect === 'derate')
      say(`${at}  ${effect} ${code}${part === undefined ? '' : ` (${part})`}: ${text}`);
  }
}

const minutes = (s: number): string =>
  s < 120 ? `${figure(s, 4)} s` : `${Math.floor(s / 60)} min ${Math.round(s % 60)} s`;

/** @param head last seal of the journal */
export function tellOutcome(o: Outcome, head: string): void {
  const exit = exitCodeOf(o);
  const style = exit === 0 ? 'green' : exit === 4 ? 'yellow' : 'red';
  say();
  say(
    paint(style, `${o.outcome.toUpperCase()}: ${EXIT_TEXT[exit]} (exit ${exit}); end reason ${o.endReason}`),
  );
  if (exit === 9)
    say(
      paint(
        'red',
        'KEEP AWAY. The state at the end is not proven dead. Plug stays locked. Lock off the supply.',
      ),
    );
  if (o.outcome === 'refused') {
    tellJournal(o, head);
    return;
  }
  const { provenDead, polesProvenOpen, outputDead, plugDead } = o.endState;
  const yes = (b: boolean, word: string): string => (b ? word : paint('red', `NOT ${word}`));
  say(`duration              ${minutes(o.durationS)}`);
  say(
    `energy                ${figure(o.energyToBatteryKwh)} kWh to the battery, ${figure(o.energyFromSupplyKwh)} kWh from the supply`,
  );
  const { converter, cableAndContacts, train } = o.lossesKwh;
  say(
    `losses                converter ${watthours(converter)} kWh, cable and contacts ${watthours(cableAndContacts)} kWh, train ${watthours(train)} kWh`,
  );
  say(
    `state of charge       ${figure((o.socStart ?? Number.NaN) * 100)} % to ${figure((o.socEnd ?? Number.NaN) * 100)} %`,
  );
  say(`peak current, ramp    ${figure(o.peakCurrentA)} A, ${figure(o.peakRampAPerS, 3)} A/s`);
  const spans = o.bindingLimits.map((b) => `${b.limit} ${figure(b.fromS)}–${figure(b.toS)} s`);
  say(`binding limits        ${fold(spans.join(', '), 90, ' '.repeat(22))}`);
  say(
    `end state             ${yes(polesProvenOpen, 'both poles proven open')}, ${yes(outputDead, 'output dead')}, ${yes(plugDead, 'plug dead')}, plug ${lockWord(o)}`,
  );
  if (o.residualVoltageAtReleaseV !== null)
    say(`residual voltage      ${figure(o.residualVoltageAtReleaseV, 3)} V at release`);
  if (!provenDead && o.trip !== null) say(paint('red', 'not everything is proven dead'));
  tellJournal(o, head);
}

function tellJournal({ journal, findings }: Outcome, head: string): void {
  say(`journal               ${journal}`);
  if (!findings.some(({ code }) => code === 'journal-failed')) say(`its last seal         ${head}`);
  else if (head === FIRST_SEAL) say('its last seal         none: it failed before any was on disk');
  else say(`its last seal on disk ${head}; it failed behind that`);
}

/** A lock nobody can read any more is not a free plug. */
export function lockWord({ outcome, endState }: Pick<Outcome, 'outcome' | 'endState'>): string {
  if (endState.plugLocked) return 'locked';
  return outcome === 'released' ? 'free' : 'not seen locked';
}
