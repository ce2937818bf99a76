/**
 * Sends a burst of pilot samples in parts, one after each report, as large as the line has room for beside
 * the reports: a burst must never delay them.
 */
import { WAVE_PARTS, WAVE_SAMPLES, type Wave } from '../../src/link/frames.js';

/** Share of a period a burst may fill, the report included. */
const LINE_SHARE = 0.8;
/** Envelope and heading of a `wave` frame, and one sample with its comma, at their longest in practice. */
const HEAD_BYTES = 90;
const SAMPLE_BYTES = 9;
const LEAST_SAMPLES = 8;

export class WaveSender {
  private parts: Wave[] = [];

  constructor(private readonly baud: number) {}

  /** Replaces a burst under way. When there are too many samples, the last ones are sent. */
  load(re: number, samplesA: Float64Array, spacingS: number, periodMs: number, reportBytes: number): void {
    const roomBytes = (this.baud / 10) * (periodMs / 1000) * LINE_SHARE - reportBytes - HEAD_BYTES;
    const each = Math.min(WAVE_SAMPLES, Math.max(LEAST_SAMPLES, Math.floor(roomBytes / SAMPLE_BYTES)));
    const samples = [...samplesA.slice(-each * WAVE_PARTS)];
    const parts = Math.ceil(samples.length / each);
    const spacingNs = Math.max(1, Math.round(spacingS * 1e9));
    this.parts = Array.from({ length: parts }, (_, i) => ({
      verb: 'wave',
      re,
      part: i + 1,
      parts,
      spacingNs,
      samplesA: samples.slice(i * each, (i + 1) * each),
    }));
  }

  next(): Wave | undefined {
    return this.parts.shift();
  }

  clear(): void {
    this.parts = [];
  }
}
