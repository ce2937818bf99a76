/** What `fit rig` found, in words. */
import type { Fitted, RigFit } from '../learn/fit-rig.js';
import { sourceText } from '../learn/snippet.js';
import { NOTICE } from './notice.js';
import { figure, fold, paint, printable, say, table } from './print.js';

const COLUMNS = 110;
const WORDS: Readonly<Record<Fitted['verdict'], string>> = {
  apart: 'differs',
  agrees: 'agrees',
  told: 'no key',
  'cannot-tell': 'cannot tell',
};

export function tellRigFit(fit: RigFit, snippet: string | null): void {
  const { fitted, rafts, leftOut, rehearsals, sessions } = fit;
  say(NOTICE);
  say();
  say(paint('bold', printable(`${fit.rig}: ${sourceText(fit)}`)));
  if (rehearsals > 0)
    say(
      paint(
        'yellow',
        `${rehearsals} of ${sessions} ${sessions === 1 ? 'is a rehearsal' : 'are rehearsals'} in virtual time: they tell of the simulated bench, and their days are invented`,
      ),
    );
  say();
  say(
    table(
      ['key', 'unit', 'now', 'fitted', '95 % interval', 'sessions', ''],
      fitted.map((f) => [
        f.key ?? f.title,
        f.unit,
        figure(f.now),
        figure(f.fitted),
        f.low === null ? '–' : `${figure(f.low)} to ${figure(f.high)}`,
        String(f.sessions),
        WORDS[f.verdict],
      ]),
      [2, 3, 5],
    ),
  );
  say();
  for (const [because, titles] of byReason(fitted))
    say(`${fold(printable(`${titles.join(', ')}: ${because}.`), COLUMNS, '  ')}`);
  say(fold('Every interval also holds what instruments of class 0.5 may all be off alike.', COLUMNS, '  '));
  say();
  say(
    table(
      ['raft', 'factor on its resistances', '95 % interval', 'sessions'],
      rafts.map((r) => [
        printable(r.raft),
        figure(r.factor),
        r.low === null ? 'cannot tell' : `${figure(r.low)} to ${figure(r.high)}`,
        String(r.sessions),
      ]),
      [1, 3],
    ),
  );
  if (leftOut.length > 0) {
    say();
    say('Left out:');
    for (const { file, why } of leftOut) say(printable(`  ${file}: ${why}`));
  }
  say();
  if (snippet === null) say('Nothing to change: no interval excludes the value of the rig.');
  else {
    say('To paste into the rig file, or a variant of it, once a competent person has confirmed it:');
    say();
    say(snippet);
  }
}

function byReason(fitted: readonly Fitted[]): Map<string, string[]> {
  const all = new Map<string, string[]>();
  for (const { title, because } of fitted) all.set(because, [...(all.get(because) ?? []), title]);
  return all;
}
