/** The simulated disk keeps the promise of every store: what it has once lost it never seems to have kept. */
import { expect, it } from 'vitest';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { VirtualStore } from '../../simulators/virtual-store.js';

it('stays failed after a write that was lost, though there is room again before anything is synced', () => {
  const clock = new VirtualClock();
  const faults = { journalDelayMs: 0, journalFails: false };
  let text = '';
  const sink = {
    append: (more: string) => {
      text += more;
    },
    close: async () => {},
  };
  const store = new VirtualStore('j', clock, () => faults, sink);
  const answers: (string | null)[] = [];
  const sync = (): void => store.sync((error) => answers.push(error?.message ?? null));
  store.append('kept ');
  sync();
  clock.runUntil(10);
  faults.journalFails = true;
  store.append('lost ');
  faults.journalFails = false;
  store.append('after it');
  sync();
  clock.runUntil(20);
  expect(text).toBe('kept ');
  expect(answers).toEqual([null, 'no space left on the simulated disk']);
});
