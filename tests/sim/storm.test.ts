/** A small storm, and the parts of a great one: drawing, bringing back by one line, making small. */
import { describe, expect, it } from 'vitest';
import { parseCase, type StormCase } from '../../src/storm/case.js';
import { drawCase } from '../../src/storm/draw.js';
import { runCase, type StormResult } from '../../src/storm/run.js';
import { shrink } from '../../src/storm/shrink.js';

const SEED = 2024;

describe('drawing', () => {
  it('gives the same session for the same seed and number, and another for another', () => {
    expect(drawCase(SEED, 7)).toEqual(drawCase(SEED, 7));
    expect(drawCase(SEED, 8)).not.toEqual(drawCase(SEED, 7));
    expect(drawCase(SEED + 1, 7)).not.toEqual(drawCase(SEED, 7));
  });
  it('draws what one line brings back', () => {
    const drawn = Array.from({ length: 60 }, (_, i) => drawCase(SEED, i));
    for (const each of drawn) expect(parseCase(JSON.stringify(each))).toEqual(each);
    expect(new Set(drawn.map((d) => d.base)).size).toBe(5);
    expect(drawn.some((d) => Object.keys(d.set).length > 2)).toBe(true);
    expect(drawn.some((d) => d.inject.length === 4)).toBe(true);
  });
  it.each(['', '{', '{"base":"depot-cable"}', '{"base":"depot-cable","seed":1,"more":2}'])(
    'refuses the line %j in words',
    (line) => {
      expect(() => parseCase(line)).toThrow(/--reproduce: /);
    },
  );
});

describe('a small storm', () => {
  it('breaks nothing, and comes out the same again', { timeout: 120_000 }, async () => {
    const results: StormResult[] = [];
    for (let i = 0; i < 10; i++) results.push(await runCase(drawCase(SEED, i)));
    expect(results.flatMap((r) => r.broken)).toEqual([]);
    expect(new Set(results.map((r) => r.exit)).size).toBeGreaterThan(2);
    const again = await runCase(drawCase(SEED, 3));
    expect(again.digest).toBe(results[3]?.digest);
  });
});

/** Each broke an invariant once, in a storm of a hundred thousand: made small, as the storm printed it. */
const FOUND = [
  {
    what: 'I5: the plug freed while the train could not be seen any more',
    ends: 9,
    line: '{"base":"depot-split","set":{},"first":"start","seed":1094724429,"start":{},"wish":{"maxS":38.19},"inject":[{"fault":"sensor-reads-nothing","phase":"parting-train","afterS":0.5,"part":"train"}],"orders":[]}',
  },
  {
    what: 'I3: a set-point that rose on a voltage the wrong way round',
    ends: 3,
    line: '{"base":"terminus-shoes","set":{},"first":"start","seed":1665145007,"start":{},"wish":{"maxS":22.34},"inject":[{"fault":"polarity-reversed","phase":"ramping","afterS":0.1349}],"orders":[]}',
  },
  {
    what: 'I5: a raft joined as the train parted, and a dead voltmeter freed the live plug',
    ends: 9,
    line: '{"base":"depot-cable","set":{},"first":"start","seed":1899491237,"start":{},"wish":{"maxS":23.57},"inject":[{"fault":"voltmeter-dead","phase":"start","afterS":0}],"orders":[{"order":"stop","phase":"proving-presence","afterS":0.8701}]}',
  },
  {
    what: 'I5: a plug freed that hung on the live train by one pole, whose auxiliary lied',
    ends: 9,
    line: '{"base":"depot-split","set":{},"first":"start","seed":808148235,"start":{},"wish":{"maxS":39.72},"inject":[{"fault":"train-aux-says-open","phase":"joining-train","afterS":2.8,"part":"p"},{"fault":"stored-charge","phase":"ramping-down","afterS":0.5,"magnitude":0.00000319,"part":"train"}],"orders":[]}',
  },
] as const;

describe('what storms have found', () => {
  it.each(FOUND)('$what', async ({ line, ends }) => {
    const { broken, exit } = await runCase(parseCase(line));
    expect(broken).toEqual([]);
    expect(exit).toBe(ends);
  });
});

describe('making small', () => {
  const BASE: StormCase = {
    ...{ base: 'depot-cable', first: 'start', seed: 1, set: { 'ramp.upAPerS': 9, 'link.answerMs': 500 } },
    ...{ start: { soc: 0.5, cellC: 20 }, wish: { maxS: 20, targetSoc: 0.8 } },
    inject: [
      { fault: 'loop-open', phase: 'holding', afterS: 0.234 },
      { fault: 'bond-lost', phase: 'closing', afterS: 0.5, durationS: 1 },
      { fault: 'brake-off', phase: 'start' },
    ],
    orders: [
      { order: 'stop', phase: 'holding' },
      { order: 'start', phase: 'ramping' },
    ],
  };
  const outcome = (ids: readonly string[]): StormResult => ({
    broken: ids.map((id) => ({ id, text: id })),
    ...{ exit: 3, codes: [], ended: 'x', virtualS: 1, digest: '' },
  });
  /** Stands for a supervisor that breaks I2 with this fault and this order together. */
  const run = async (c: StormCase): Promise<StormResult> => {
    const breaks = c.inject.some((f) => f.fault === 'bond-lost') && c.orders.some((o) => o.order === 'stop');
    return outcome(breaks ? ['I2'] : c.inject.length === 0 ? ['I7'] : []);
  };

  it('leaves only what the same breach needs', async () => {
    const { small, tries } = await shrink(BASE, outcome(['I2']), run);
    expect(small).toEqual({
      ...{ base: 'depot-cable', first: 'start', seed: 1, set: {}, start: {}, wish: { maxS: 20 } },
      inject: [{ fault: 'bond-lost', phase: 'closing', afterS: 0.5 }],
      orders: [{ order: 'stop', phase: 'holding' }],
    });
    expect(tries).toBeLessThan(60);
  });
  it('never trades one breach for another', async () => {
    const { result } = await shrink(BASE, outcome(['I2']), run);
    expect(result.broken.map((b) => b.id)).toEqual(['I2']);
  });
});
