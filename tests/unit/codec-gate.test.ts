import { describe, expect, it } from 'vitest';
import { decodeToSupervisor, encodeToSupervisor } from '../../src/link/codec.js';
import { FrameGate } from '../../src/link/frame-gate.js';

const N = '0123abcd';
const tag = (seq: number, nonce = N): string =>
  encodeToSupervisor(nonce, seq, { verb: 'tag', clockMs: 1, kind: 'cleared', value: seq });

describe('frame gate', () => {
  it('takes the frames of its session in rising order, each once', () => {
    const gate = new FrameGate(decodeToSupervisor, N);
    expect(gate.accept(tag(1)).ok).toBe(true);
    expect(gate.accept(tag(2)).ok).toBe(true);
    expect(gate.accept(tag(2))).toEqual({ ok: false, why: 'repeated-or-old-sequence' });
    expect(gate.accept(tag(1))).toEqual({ ok: false, why: 'repeated-or-old-sequence' });
    expect(gate.rejects['repeated-or-old-sequence']).toBe(2);
    expect(gate.missing).toBe(0);
  });

  it('counts what never came', () => {
    const gate = new FrameGate(decodeToSupervisor, N);
    gate.accept(tag(1));
    gate.accept(tag(5));
    expect(gate.missing).toBe(3);
    // Late is lost: it does not fill the gap.
    expect(gate.accept(tag(3)).ok).toBe(false);
    expect(gate.missing).toBe(3);
  });

  it('takes nothing of another session, and a foreign number does not move its own', () => {
    const gate = new FrameGate(decodeToSupervisor, N);
    expect(gate.accept(tag(1000, 'ffffffff'))).toEqual({ ok: false, why: 'wrong-nonce' });
    expect(gate.accept(tag(1)).ok).toBe(true);
    expect(new FrameGate(decodeToSupervisor, null).accept(tag(1))).toEqual({ ok: false, why: 'wrong-nonce' });
  });

  it('counts damage and starts afresh with a session', () => {
    const gate = new FrameGate(decodeToSupervisor, N);
    gate.accept('rubbish');
    gate.accept(tag(1).replace('1', '2'));
    expect(gate.rejected).toBe(2);
    gate.adopt('89abcdef', 4);
    expect(gate.rejected).toBe(0);
    expect(gate.accept(tag(4, '89abcdef')).ok).toBe(false);
    expect(gate.accept(tag(5, '89abcdef')).ok).toBe(true);
    expect(gate.session).toBe('89abcdef');
  });
});
