/** Charts of a report: names apart, readable without colour, the axis never exaggerating noise. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { FigureChart } from '../../src/paper/chart.js';
import { rowsOf } from '../../src/paper/chart-marks.js';
import { apart, figureSpec } from '../../src/paper/chart-spec.js';
import { specToSvg } from '../../src/paper/svg.js';

const ROW = 12;
const HEIGHT = 128;

const chart = (more: Partial<FigureChart>): FigureChart => ({
  unit: 'A',
  xTitle: 'seconds',
  x: [0, 10],
  lines: [],
  ...more,
});

async function drawn(more: Partial<FigureChart>): Promise<string> {
  const spec = figureSpec(chart(more));
  expect(spec).not.toBeNull();
  return specToSvg(spec as Record<string, unknown>);
}
const textsOf = (svg: string): string[] => [...svg.matchAll(/<text[^>]*>([^<]*)<\/text>/g)].map((m) => m[1]!);

describe('names at the ends of lines', () => {
  it('never meet, and stay within the height', () => {
    const wanted = fc.array(fc.double({ min: -20, max: HEIGHT + 20, noNaN: true }), { maxLength: 9 });
    fc.assert(
      fc.property(wanted, (at) => {
        const places = apart(at, HEIGHT).sort((a, b) => a - b);
        for (const [i, place] of places.entries()) {
          expect(place).toBeGreaterThanOrEqual(-1e-9);
          expect(place).toBeLessThanOrEqual(HEIGHT + 1e-9);
          if (i > 0) expect(place - (places[i - 1] as number)).toBeGreaterThanOrEqual(ROW - 1e-9);
        }
      }),
    );
  });
  it('stay where they are when there is room', () => {
    expect(apart([100, 10, 60], HEIGHT)).toEqual([100, 10, 60]);
  });
});

describe('a chart', () => {
  it('is none without a single value', () => {
    expect(figureSpec(chart({ lines: [{ name: 'a', points: [[0, null]] }] }))).toBeNull();
    expect(figureSpec(chart({ log: true, lines: [{ name: 'a', points: [[0, 0]] }] }))).toBeNull();
  });
  it('tells four lines apart by dashes alone, each named', async () => {
    const names = ['one', 'two', 'three', 'four'];
    const svg = await drawn({
      lines: names.map((name, i) => ({
        name,
        points: [
          [0, i],
          [10, i + 1],
        ],
      })),
    });
    const dashes = new Set([...svg.matchAll(/stroke-dasharray="([^"]*)"/g)].map((m) => m[1]));
    expect(dashes.size).toBeGreaterThanOrEqual(4);
    expect(textsOf(svg)).toEqual(expect.arrayContaining(names));
  });
  it('names a phase where there is room, numbers it where there is little, and leaves it out where there is none', async () => {
    const svg = await drawn({
      lines: [{ name: 'a', points: [[0, 1]] }],
      bands: [
        { number: 1, name: 'holding', from: 0, to: 8 },
        { number: 2, name: 'tapering', from: 8, to: 8.5 },
        { number: 77, name: 'opening', from: 8.5, to: 8.51 },
      ],
    });
    const texts = textsOf(svg);
    expect(texts).toContain('1 holding');
    expect(texts).toContain('2');
    expect(texts.filter((t) => /tapering|opening|^77$/.test(t))).toEqual([]);
  });
  it('names the longest of two limits that compete for room', async () => {
    const svg = await drawn({
      lines: [{ name: 'a', points: [[0, 1]] }],
      notes: [
        { x: 5, y: 1, text: 'short lived', until: 5.1 },
        { x: 5.1, y: 1, text: 'connection rating', until: 9 },
      ],
    });
    expect(textsOf(svg)).toContain('connection rating');
    expect(textsOf(svg)).not.toContain('short lived');
  });
  it('spans no less than it is told', async () => {
    const lines = [
      {
        name: 'a',
        points: [
          [0, 300.01],
          [10, 300.02],
        ] as const,
      },
    ];
    const ticks = textsOf(await drawn({ lines, leastSpan: 20 }))
      .map(Number)
      .filter((t) => t > 100);
    expect(Math.max(...ticks) - Math.min(...ticks)).toBeGreaterThanOrEqual(10);
  });
  it('escapes what it is given to write', async () => {
    const svg = await drawn({ lines: [{ name: '<script>"&', points: [[0, 1]] }] });
    expect(svg).not.toContain('<script');
    expect(svg).toContain('&lt;script');
  });
});

describe('names of marks', () => {
  it('never meet, and no line runs through the name of an earlier one', () => {
    const mark = fc.tuple(
      fc.double({ min: 0, max: 500, noNaN: true }),
      fc.double({ min: 10, max: 150, noNaN: true }),
    );
    fc.assert(
      fc.property(fc.array(mark, { maxLength: 12 }), (marks) => {
        const sorted = [...marks].sort((a, b) => a[0] - b[0]);
        const at = sorted.map((m) => m[0]);
        const rows = rowsOf(
          at,
          sorted.map((m) => m[1]),
        );
        // A later line rises to its own row: below every name it would run through.
        for (const [i, [x, width]] of sorted.entries())
          for (let j = i + 1; j < sorted.length; j++)
            if ((at[j] as number) < x + width) expect(rows[j]).toBeLessThan(rows[i] as number);
      }),
    );
  });
  it('stay in the lowest row where there is room', () => {
    expect(rowsOf([0, 100, 200], [90, 90, 90])).toEqual([0, 0, 0]);
    expect(rowsOf([0, 10, 200], [90, 90, 90])).toEqual([1, 0, 0]);
  });
  it('are drawn above the upper of two figures alone, their lines through both', async () => {
    const marks = [
      { x: 2, text: 'fault' },
      { x: 5, text: 'TRIP', strong: true },
    ];
    const lines = [
      {
        name: 'a',
        points: [
          [0, 1],
          [10, 2],
        ] as const,
      },
    ];
    const upper = await drawn({ part: 'upper', marks, lines });
    const lower = await drawn({ part: 'lower', marks, lines });
    for (const text of ['fault', 'TRIP']) {
      expect(textsOf(upper)).toContain(text);
      expect(textsOf(lower)).not.toContain(text);
    }
    expect(textsOf(upper)).not.toContain('seconds');
    expect(textsOf(lower)).toContain('seconds');
    expect(lower.match(/stroke-width="1.8"/g)).toHaveLength(1);
  });
});
