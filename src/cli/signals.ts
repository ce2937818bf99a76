/** What Ctrl-C, and a polite kill, mean to a session over serial ports. */
import { EXIT } from '../supervisor/outcome.js';
import type { Runner } from '../supervisor/runner.js';
import { complain } from './print.js';

export interface Signals {
  /** From now on this session is meant; null: none is under way. */
  tell(runner: Runner | null): void;
  /** Someone has asked for an end. */
  readonly heard: boolean;
}

/**
 * First: a normal stop. Second: trip now. After that nothing leaves before the end state is known. It listens
 * before the ports are open: the device may answer the first frame before anything else happens here.
 * @param idle while no session is under way
 */
export function listenToSignals(by: string, idle = leave): Signals {
  let heard = 0;
  let runner: Runner | null = null;
  const heed = (): void => {
    heard++;
    if (runner === null) idle();
    else if (heard === 1) {
      complain('Stopping normally. Once more: trip now (not the emergency stop: that is the button).');
      runner.person({ order: 'stop', by });
    } else if (heard === 2) {
      complain('Trip now.');
      runner.person({ order: 'trip-now', by });
    } else complain('Waiting until the end state is known. The emergency stop is the button on the charger.');
  };
  process.on('SIGINT', heed);
  process.on('SIGTERM', heed);
  return {
    tell: (open) => {
      runner = open;
    },
    get heard() {
      return heard > 0;
    },
  };
}

function leave(): void {
  complain('Stopped before the ports were open; nothing was ordered.');
  process.exit(EXIT.refused);
}
