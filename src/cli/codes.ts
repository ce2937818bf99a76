/** `loopwarden codes`: the catalogue. */
import type { Command } from 'commander';
import { CATALOGUE, CODES, type Effect } from '../checks/catalogue.js';
import { EXIT_TEXT } from '../supervisor/outcome.js';
import { NOTICE } from './notice.js';
import { fold, paint, say, table } from './print.js';

const EFFECT_TEXT: Record<Effect, string> = {
  note: 'told, nothing else',
  derate: 'a named limit governs the current',
  stop: 'controlled stop (category 1), not latched',
  'trip-1': 'ramp down under a deadline, then make safe; latched',
  'trip-0': 'make safe at once; latched',
  refuse: 'the order is refused',
};

export function addCodes(program: Command): void {
  program
    .command('codes')
    .description('every code, what it does, what it means and what to do about it; and the exit codes')
    .option('--json', 'one JSON object')
    .action((options: { json?: boolean }) => {
      if (options.json) {
        const codes = CODES.map((code) => ({ code, ...CATALOGUE[code] }));
        say(JSON.stringify({ codes, effects: EFFECT_TEXT, exits: EXIT_TEXT }));
        return;
      }
      say(NOTICE);
      say();
      for (const code of CODES) {
        const { effect, refusesStart, text, remedy } = CATALOGUE[code];
        say(
          `${paint('bold', code.padEnd(28))}${effect}${refusesStart && effect !== 'refuse' ? ', refuses a start' : ''}`,
        );
        say(`    ${fold(text, 96, '    ')}`);
        say(`    ${paint('dim', fold(`→ ${remedy}`, 96, '      '))}`);
      }
      say();
      say(table(['effect', 'what it does'], Object.entries(EFFECT_TEXT)));
      say();
      say(table(['exit', 'meaning'], Object.entries(EXIT_TEXT)));
    });
}
