/** I11: every command is in the journal; every energising one was durable before it was sent. */
import type { JournaledOrder } from '../entry.js';
import { isDurable } from '../picture.js';
import type { Invariant } from './watch.js';

/** Bounds what waits for the store or an answer, as the supervisor bounds it. */
const MOST_WAITING = 64;
/** Answers speak of frames not older than this many. */
const MOST_FRAMES = 4096;

export const I11: Invariant = {
  id: 'I11',
  onJournal:
    'every frame with a durable order comes after a record of its own of that order and after the store confirmed that record, or says again what has had no answer; every answer of a device speaks of a frame the journal has',
  onTruth: null,
  watch: ({ rig, broken }) => {
    /** Numbers of the records that hold an order for the store, for each port that has not sent it yet. */
    const promised = new Map<string, number[]>();
    /** Order frames without an answer, by port and sequence. */
    const unanswered = new Map<string, readonly string[]>();
    const frames = new Set<string>();
    let syncedUpTo = -1;
    const saidBefore = (port: number, order: string): boolean =>
      [...unanswered].some(([frame, orders]) => frame.startsWith(`${port} `) && orders.includes(order));
    const durable = (port: number, order: string): boolean => {
      const waiting = promised.get(`${port} ${order}`) ?? [];
      if (!((waiting[0] ?? Number.POSITIVE_INFINITY) <= syncedUpTo)) return saidBefore(port, order);
      waiting.shift();
      return true;
    };
    return {
      entry(e) {
        if (e.k === 'sync') syncedUpTo = Math.max(syncedUpTo, e.b as number);
        if (e.line?.verb === 'answer') {
          const frame = `${e.port} ${e.line.answers}`;
          if (!frames.has(frame))
            broken('journal', `port ${e.port} answers frame ${e.line.answers}, which is not in the journal`);
          unanswered.delete(frame);
        }
        if (e.k !== 'order') return;
        if (e.b.durable === true) {
          for (const o of e.b.orders as JournaledOrder[]) {
            if (!isDurable(o)) continue;
            for (const port of rig.link.ports.keys()) {
              const key = `${port} ${JSON.stringify(o)}`;
              promised.set(key, [...(promised.get(key) ?? []).slice(1 - MOST_WAITING), e.n]);
            }
          }
          return;
        }
        const { port, seq } = e.b as { port: number; seq: number };
        for (const o of e.sent) {
          if (isDurable(o) && !durable(port, JSON.stringify(o)))
            broken(
              'journal',
              `${o.name} left at number ${e.n} (port ${port}, frame ${seq}) before it was durable`,
            );
        }
        frames.add(`${port} ${seq}`);
        if (frames.size > MOST_FRAMES) frames.delete(frames.values().next().value ?? '');
        unanswered.set(
          `${port} ${seq}`,
          e.sent.map((o) => JSON.stringify(o)),
        );
        if (unanswered.size > MOST_WAITING) unanswered.delete(unanswered.keys().next().value ?? '');
      },
    };
  },
};
