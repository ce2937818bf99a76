/** An audit as people read it: one page, the verdict first. */
import type { AuditResult } from '../audit/audit.js';
import { tellBreach } from '../audit/judge.js';
import { DONE_TEXT } from '../audit/order-done.js';
import { brokenOnRecord, lacksEnd, NO_END, observedText } from '../audit/verdict.js';
import { isoOf } from '../host/clock.js';
import { RECOVERY } from '../journal/recovery.js';
import { seconds, verdictOf } from '../report/words.js';
import { EXIT, EXIT_TEXT, exitCodeOf } from '../supervisor/outcome.js';
import { exitOfAudit } from './audit-file.js';
import { figure, fold, paint, say, table, withUnit } from './print.js';

const INDENT = ' '.repeat(14);
const COLUMNS = 100;
const NEAREST = 12;
const FIGURES_SHOWN = 3;

const row = (name: string, text: string): void => say(`${name.padEnd(14)}${fold(text, COLUMNS, INDENT)}`);

export function tellAudit(file: string, a: AuditResult, eventsShown: number): void {
  const exit = exitOfAudit(a);
  say(paint(exit === 0 ? 'green' : 'red', `${verdictOf(exit, a)} (exit ${exit}): ${file}`));
  if (a.header !== null) {
    const { rig, software, by, clock, wallMs } = a.header;
    const when = clock === 'virtual' ? 'in virtual time' : `begun at ${isoOf(wallMs)} by the wall clock`;
    row('session', `${rig}, asked for by ${by}, ${when}, written by ${software}`);
  }
  tellRecord(a);
  tellDecisions(a);
  tellOutcome(a);
  tellPlanned(a);
  tellFigures(a);
  tellEvents(a, eventsShown);
}

function tellRecord(a: AuditResult): void {
  const { what, todo } = RECOVERY[a.row];
  row(
    'record',
    `${a.row}: ${what}; ${a.records} records under ${a.seals} seals${a.intact ? '' : paint('red', '; NOT INTACT')}`,
  );
  for (const words of a.damage) row('', paint('red', words));
  if (todo !== 'nothing') row('', `To do: ${todo}.`);
  if (a.unsealedBytes > 0)
    row('', `${a.unsealedBytes} bytes after the last seal are unprotected: anybody can have changed them.`);
  const signatures: Record<AuditResult['signed'], string> = {
    no: 'none: the chain shows damage by accident, not by somebody who makes it anew',
    'not-checked': `signed for key ${a.key?.slice(0, 16)}…; not checked: give the public key with --key`,
    valid: `every seal is signed by the key given (${a.key?.slice(0, 16)}…)`,
    invalid: 'NOT of the key given',
  };
  row('signature', signatures[a.signed]);
  const met =
    a.headMet === null
      ? ''
      : a.headMet
        ? '; the head noted elsewhere is among its seals'
        : '; the head given is not';
  row('head', `${a.head}${met}`);
  for (const { atMs, byMs } of a.clockSteps)
    row('clock', `the wall clock was set by ${figure(byMs / 1000)} s before ${seconds(atMs)}`);
}

function tellDecisions(a: AuditResult): void {
  if (a.divergence !== null) {
    const { n, atMs, written, decided } = a.divergence;
    const note = a.notReplayed === null ? '' : `, but ${a.notReplayed}: audit it with that version`;
    row('decisions', paint('red', `diverge at record ${n} (${seconds(atMs)})${note}`));
    row('  written', shorten(written));
    row('  decided', shorten(decided));
  } else if (a.notReplayed !== null)
    row('decisions', paint('red', `not all could be decided anew: ${a.notReplayed}`));
  else if (a.diverged === null) row('decisions', 'nothing to decide: the record holds no input');
  else
    row(
      'decisions',
      'decided anew from the recorded inputs: every transition, order and refusal came out the same',
    );
  if (a.observing !== null) row('', observedText(a.observing));
  const openOnly = lacksEnd(a) && brokenOnRecord(a).length === 0;
  row(
    'invariants',
    a.invariantsBroken.length === 0
      ? 'I1 to I12 hold on the record'
      : openOnly
        ? `the others hold on the record; ${paint('red', NO_END)}`
        : paint('red', `${a.invariantsBroken.join(', ')} broken`),
  );
  if (openOnly) return;
  for (const breach of a.breaches.slice(0, NEAREST)) row('', paint('red', tellBreach(breach)));
}

function tellPlanned({ planned }: AuditResult): void {
  if (planned === null) return;
  for (const [i, p] of planned.entries()) {
    const beside = `planned ${figure(p.planned)} (${figure(p.low)} to ${figure(p.high)}), came ${figure(p.got)}`;
    const text = `${p.name}: ${beside}`;
    row(
      i === 0 ? 'plan' : '',
      p.within ? text : paint('yellow', `${text}: OUTSIDE what the plan said it may be off by`),
    );
  }
}

const SHOWN_CHARS = 400;
const shorten = (line: string | null): string =>
  line === null ? '(nothing)' : line.length > SHOWN_CHARS ? `${line.slice(0, SHOWN_CHARS)}…` : line;

function tellOutcome({ firstOut, outcome, carriedOut, energy }: AuditResult): void {
  if (firstOut !== null) {
    const { code, part, phase, atS, atMs, reading, limit, unit, setting, effect } = firstOut;
    const figures =
      reading === null
        ? ''
        : `: read ${withUnit(reading, unit)}, limit ${withUnit(limit, unit)} [${setting}]`;
    row(
      'first out',
      `${code}${part === null ? '' : ` (${part})`} (${effect}) in ${phase} at ${seconds(atMs)} (${atS.toFixed(3)} s after leaving parked)${figures}`,
    );
  } else row('first out', 'nothing was found');
  if (carriedOut !== null)
    row('ended', `${DONE_TEXT[carriedOut.order]}, asked for by ${carriedOut.by}; exit ${EXIT.released}`);
  else if (outcome !== null) {
    const exit = exitCodeOf(outcome);
    row('ended', `${outcome.outcome}, ${outcome.endReason}; exit ${exit}: ${EXIT_TEXT[exit]}`);
  }
  if (energy === null) return;
  const { converter, cableAndContacts, train } = energy.lossesKwh;
  row(
    'energy',
    `${figure(energy.toBatteryKwh)} kWh to the battery by its own lines (told: ${figure(energy.toldKwh)}), ` +
      `${figure(energy.fromSupplyKwh)} kWh from the supply; lost in converter ${figure(converter, 3)}, ` +
      `cable and contacts ${figure(cableAndContacts, 3)}, train ${figure(train, 3)} kWh`,
  );
}

function tellFigures({ margins, proofs, refusals }: AuditResult): void {
  if (margins.length > 0) {
    say();
    const rows = margins
      .slice(0, NEAREST)
      .map(({ code, part, left, reading, limit, unit, setting, atMs, phase }) => [
        part === null ? code : `${code} (${part})`,
        `${figure(100 * left, 3)} %`,
        withUnit(reading, unit),
        withUnit(limit, unit),
        seconds(atMs),
        phase,
        setting,
      ]);
    say(table(['nearest limits', 'left', 'read', 'limit', 'at', 'phase', 'setting'], rows, [1, 2, 3, 4]));
    if (margins.length > NEAREST)
      say(paint('dim', `${margins.length - NEAREST} more in --json and --report`));
  }
  if (proofs.length > 0) {
    say();
    const rows = proofs.map(({ proof, atMs, phase, figures }) => [
      proof,
      seconds(atMs),
      phase,
      figures
        .slice(0, FIGURES_SHOWN)
        .map((f) => `${withUnit(f.reading, f.unit)} against ${withUnit(f.limit, f.unit)} [${f.setting}]`)
        .join(', '),
    ]);
    say(table(['proof made', 'at', 'phase', 'on these figures'], rows, [1]));
  }
  if (refusals.length === 0) return;
  say();
  const rows = refusals.map(({ asked, by, code, part, atS, text, remedy }) => [
    `${asked} by ${by}`,
    `${atS.toFixed(3)} s`,
    part === null ? code : `${code} (${part})`,
    `${text}; to permit it: ${remedy}`,
  ]);
  say(table(['refused', 'at', 'code', 'why'], rows, [1]));
}

function tellEvents({ events }: AuditResult, shown: number): void {
  if (events.length === 0 || shown === 0) return;
  say();
  // The end of the sequence is where a fault is.
  const rows = events.slice(-shown).map(({ n, atMs, kind, text }) => [seconds(atMs), String(n), kind, text]);
  say(table(['at', 'record', 'what', 'events'], rows, [0, 1]));
  if (events.length > shown)
    say(paint('dim', `${events.length - shown} earlier events: --events ${events.length}`));
}
