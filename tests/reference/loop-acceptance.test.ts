/**
 * The loop estimator on random recordings: which verdicts it gives, whether its 95 % intervals hold the truth,
 * and how wide they are against the least possible. A slice in `npm test`; `npm run acceptance:loop` draws 2000.
 */
import { describe, expect, test } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { type LoopMeasurement, loopFromWaveform, WAVEFORM_VERDICTS } from '../../src/checks/loop-waveform.js';
import { table } from '../../src/cli/print.js';
import { type LoopBound, loopBound } from './loop-bound.js';
import { CLASSES, drawCase, LIMITS, type LoopCase, SOUND_RMS_A } from './loop-cases.js';

const SLICE = 60;
const FULL = 2000;
const CASES = Number(process.env.LOOP_CASES ?? SLICE);
const IS_FULL = CASES >= FULL;
const SEED = Number(process.env.LOOP_SEED ?? 20_817);
/** Where a diode is there to be fitted, series and shunt have a truth. */
const FITTED = ['genuine', 'between', 'leaky', 'high-resistance', 'reversed'];

interface Tried {
  readonly drawn: LoopCase;
  readonly found: LoopMeasurement;
  readonly bound: LoopBound | null;
}

const measure = (drawn: LoopCase): LoopMeasurement =>
  loopFromWaveform(drawn.recording.timeS, drawn.recording.currentA, {
    ...LIMITS,
    frequencyHz: drawn.circuit.frequencyHz,
  });

const yieldOnce = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

const tried: Tried[] = [];
const clean: Tried[] = [];

const median = (values: readonly number[]): number => {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
};
const percent = (part: number, of: number): string => `${((100 * part) / of).toFixed(1)} %`;

function confusion(all: readonly Tried[]): string {
  const rows = CLASSES.map((kind) => {
    const of = all.filter((t) => t.drawn.kind === kind);
    return [kind, ...WAVEFORM_VERDICTS.map((v) => String(of.filter((t) => t.found.verdict === v).length))];
  });
  return table(['drawn', ...WAVEFORM_VERDICTS], rows, [1, 2, 3, 4, 5, 6, 7]);
}

describe('loop estimator', () => {
  test(`${CASES} random recordings: no unsound loop is called genuine`, { timeout: 14_400_000 }, async ({
    task,
  }) => {
    const random = new SeededRandom(SEED);
    for (let k = 0; k < CASES; k++) {
      const drawn = drawCase(random.fork(`case ${k}`));
      const fitted = FITTED.includes(drawn.kind);
      const { recording: _, ...rest } = drawn;
      const bound = fitted ? loopBound(drawn) : null;
      // The samples themselves are not needed again, and two thousand recordings are some hundred megabytes.
      const empty = { timeS: new Float64Array(0), currentA: new Float64Array(0) };
      const found = { ...measure(drawn), fittedA: empty.timeS };
      // A worker that never yields is given up as lost.
      await yieldOnce();
      tried.push({ drawn: { ...rest, recording: empty }, found, bound });
    }
    const refused = tried.filter((t) => t.drawn.kind === 'genuine' && t.found.verdict !== 'genuine');
    task.meta.notes = [
      confusion(tried),
      `genuine refused: ${refused.length}`,
      ...refused.map((t) => `  ${t.found.verdict}: ${t.found.reason}`),
    ];
    const wrong = tried.filter((t) => t.drawn.kind !== 'genuine' && t.found.verdict === 'genuine');
    expect(wrong.map((t) => [t.drawn.kind, t.drawn.seriesOhm, t.drawn.shuntOhm])).toEqual([]);
  });

  test('clean recordings of sound loops: none is refused', { timeout: 3_600_000 }, async ({ task }) => {
    const random = new SeededRandom(SEED + 1);
    for (let k = 0; k < (IS_FULL ? 300 : 15); k++) {
      const drawn = drawCase(random.fork(`clean ${k}`), { clean: true, kind: 'genuine' });
      await yieldOnce();
      clean.push({ drawn, found: measure(drawn), bound: null });
    }
    const refused = clean.filter((t) => t.found.verdict !== 'genuine');
    task.meta.notes = [`${clean.length} clean genuine, ${refused.length} refused`];
    expect(refused.map((t) => t.found.reason)).toEqual([]);
  });

  test('95 % intervals hold the truth, and are hardly wider than they must be', ({ task }) => {
    const fitted = tried.filter((t) => t.bound !== null);
    const holdsSeries = (t: Tried): boolean =>
      t.drawn.seriesOhm >= t.found.seriesOhm.atLeast && t.drawn.seriesOhm <= t.found.seriesOhm.atMost;
    const holdsShunt = (t: Tried): boolean =>
      t.drawn.shuntOhm >= t.found.shuntOhm.atLeast && t.drawn.shuntOhm <= t.found.shuntOhm.atMost;
    const series = fitted.filter(holdsSeries).length;
    const shunt = fitted.filter(holdsShunt).length;
    const seriesWidth = median(
      fitted.map((t) => t.found.seriesOhm.uncertainty / (1.96 * t.bound!.seriesOhm)),
    );
    const shuntWidth = median(
      fitted.map(
        (t) => (1 / t.found.shuntOhm.atLeast - 1 / t.found.shuntOhm.value) / (1.96 * t.bound!.shuntS),
      ),
    );
    const quarters = [0.0017, 0.005, 0.015, 0.06].map((top, k, tops) => {
      const of = fitted.filter((t) => {
        const share = t.drawn.noiseA / SOUND_RMS_A;
        return share <= top && share > (tops[k - 1] ?? 0);
      });
      return `  noise to ${(100 * top).toFixed(2)} %: ${of.length} cases, series ${percent(of.filter(holdsSeries).length, of.length)}, shunt ${percent(of.filter(holdsShunt).length, of.length)}`;
    });
    task.meta.notes = [
      `series held by ${percent(series, fitted.length)}, shunt by ${percent(shunt, fitted.length)} of ${fitted.length}`,
      `median width over the Cramér–Rao bound's: series ${seriesWidth.toFixed(3)}, shunt ${shuntWidth.toFixed(3)}`,
      ...FITTED.map((kind) => {
        const of = fitted.filter((t) => t.drawn.kind === kind);
        return `  ${kind}: ${of.length} cases, series ${percent(of.filter(holdsSeries).length, of.length)}, shunt ${percent(of.filter(holdsShunt).length, of.length)}`;
      }),
      ...quarters,
    ];
    // Seventy intervals have a spread of three per cent of their own.
    const [low, high] = IS_FULL ? [0.93, 0.97] : [0.86, 1];
    for (const share of [series / fitted.length, shunt / fitted.length]) {
      expect(share).toBeGreaterThanOrEqual(low);
      expect(share).toBeLessThanOrEqual(high);
    }
    expect(seriesWidth).toBeLessThanOrEqual(1.5);
    expect(shuntWidth).toBeLessThanOrEqual(1.5);
  });
});
