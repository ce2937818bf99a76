import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { OPEN_P_LAST_MS } from '../../simulators/firmware/make-safe.js';
import { decodeToDevice, decodeToSupervisor } from '../../src/link/codec.js';
import { MAX_LINE_BYTES } from '../../src/link/link.js';
import { GENERATED, written } from './codec-document.js';
import { TO_DEVICE, TO_SUPERVISOR, TURNED_AWAY } from './codec-vectors.js';

// To renew the marked parts after a change of the dictionary, write `renewed(document)` back to the file.
const document = readFileSync(new URL('../../src/link/PROTOCOL.md', import.meta.url), 'utf8');
const linesOf = (name: string): string[] =>
  (written(document, name) ?? '').split('\n').filter((line) => !line.startsWith('```'));

/** A formatter may align the columns of a table: that is no difference. */
const plain = (text: string): string => text.trim().replace(/ +/g, ' ').replace(/-{3,}/g, '---');

describe('PROTOCOL.md', () => {
  it.each(Object.keys(GENERATED))('agrees with the dictionary on: %s', (name) => {
    expect(plain(written(document, name) ?? '')).toBe(plain(GENERATED[name]?.() ?? ''));
  });

  it('prints vectors to the device that decode to what they say', () => {
    const lines = linesOf('vectors-to-device');
    expect(lines).toHaveLength(TO_DEVICE.length);
    lines.forEach((line, i) => {
      expect(decodeToDevice(line)).toEqual({ ok: true, frame: TO_DEVICE[i] });
    });
  });

  it('prints vectors to the supervisor that decode to what they say', () => {
    const lines = linesOf('vectors-to-supervisor');
    expect(lines).toHaveLength(TO_SUPERVISOR.length);
    lines.forEach((line, i) => {
      expect(decodeToSupervisor(line)).toEqual({ ok: true, frame: TO_SUPERVISOR[i] });
    });
  });

  it('prints lines that are turned away for the reason it gives', () => {
    const lines = linesOf('vectors-turned-away');
    expect(lines).toHaveLength(TURNED_AWAY.length);
    for (const row of lines) {
      const [, why, line] = /^(\S+)\s+(.*)$/.exec(row) as unknown as [string, string, string];
      expect(decodeToDevice(line)).toEqual({ ok: false, why });
    }
  });

  it('states the bounds the code has', () => {
    expect(document).toContain(`${MAX_LINE_BYTES} bytes`);
    expect(document).toContain(`${OPEN_P_LAST_MS} ms`);
    expect(document).toContain('e3069283');
  });

  it('carries the notice', () => {
    expect(document).toContain('Live DC kills');
    expect(document).toContain('not a safety function');
    expect(document).toContain('competent person');
  });
});
