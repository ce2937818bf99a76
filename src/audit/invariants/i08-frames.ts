/** I8: nothing from another session, port generation or sequence has effect. */
import type { Invariant } from './watch.js';

export const I8: Invariant = {
  id: 'I8',
  onJournal:
    'every line that was used comes from a device, bears the nonce of this session, a check that fits (computed here from its definition) and a sequence number above the last of its port, on a port that is not down; frames with orders go out with rising numbers',
  onTruth: null,
  watch: ({ rig, nonce, broken }) => {
    const lastIn = new Map<number, number>();
    const lastOut = new Map<number, number>();
    const down = new Set<string>();
    return {
      entry(e) {
        if (e.k === 'port' && typeof e.b.down === 'string') down.add(e.b.port);
        if (e.k === 'order' && e.b.durable !== true) {
          const { port, seq } = e.b as { port: number; seq: number };
          if (!(seq > (lastOut.get(port) ?? 0))) broken('journal', `order frame ${seq} is no new number`);
          lastOut.set(port, seq);
        }
        if (e.line === null) return;
        const { direction, crcFits, seq } = e.line;
        if (direction !== '<') broken('journal', `a line marked ${direction} was used`);
        if (e.line.nonce !== nonce) broken('journal', `a line of session ${e.line.nonce} was used`);
        if (!crcFits) broken('journal', `line ${seq} was used with a check that does not fit`);
        if (!(seq > (lastIn.get(e.port) ?? 0)))
          broken('journal', `line ${seq} was used after ${lastIn.get(e.port)}`);
        if (down.has(rig.link.ports[e.port]?.name ?? '')) broken('journal', 'a line of a port that is down');
        lastIn.set(e.port, Math.max(seq, lastIn.get(e.port) ?? 0));
      },
    };
  },
};
