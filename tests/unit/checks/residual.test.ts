/**
 * Both sides bled: proofs, deadlines, a bleeder that is dead and a side that is fed.
 *
 * On the depot the output falls with 60 Ω × 8 mF = 480 ms and has 5 s, the plug with 80 kΩ × 1 µF = 80 ms and has
 * eight of them; two reports and 50 ms are the margin of both. Make-safe bleeds the output 20 ms after P, the plug
 * 200 + 200 + 80 ms after it, and opens P within 100 ms.
 */
import { describe, expect, it } from 'vitest';
import type { Observation } from '../../../src/checks/check.js';
import { allowedMs, residual } from '../../../src/checks/residual.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene, shoes } from './build.js';
import { PartialScene } from './partial-scene.js';

const tauMs = 1000 * depot.bleeder.plugOhm * depot.connection.cable.capacitanceF;

function bleeding(plugAt: (ms: number) => number, reports: number, trainV = 0) {
  const scene = new Scene().charging(0, 'parting-train');
  Object.assign(scene.volts('output', 0).converter, { state: 0, outputV: 0 });
  const run = new Run(residual, scene).reports(4);
  Object.assign(scene.train, { closedP: 0, closedN: 0, trainV });
  scene
    .order('train', { trainClosed: false })
    .enter('bleeding')
    .order('bleeder', { bleedPlug: true, bleedOutput: true });
  run.reports(reports, (s, k) => {
    s.bleeder.plugOn = 1;
    const before = plugAt(k * 50);
    s.volts('plug', plugAt((k + 1) * 50));
    s.meter.plugMaxV = before;
  });
  return run;
}

describe('bleeding', () => {
  it('proves the plug dead by a fall within a report', () => {
    const run = bleeding((ms) => 720 * Math.exp(-ms / tauMs), 12);
    expect(run.failing).toEqual([]);
    expect(run.proofs).toEqual(['output-dead', 'plug-dead']);
  });
  it('names a dead bleeder within its own time, and takes a late death for none', () => {
    const natural = (ms: number): number => 720 * Math.exp(-ms / 2500);
    const dueMs = allowedMs(new Scene().rig, 'plug');
    expect(dueMs).toBeLessThan(1000);
    expect(bleeding(natural, Math.floor(dueMs / 50)).failing).toEqual([]);
    expect(bleeding(natural, Math.ceil(dueMs / 50) + 2).failing).toEqual(['plug-not-dead']);
    expect(bleeding(natural, 200).proofs).toEqual(['output-dead']);
  });
  it('says when the train feeds the side being bled', () => {
    expect(bleeding(() => 720, Math.ceil((10 * tauMs) / 50) + 4, 720).failing).toContain(
      'bleeder-aborted/plug',
    );
  });
  it('proves no output dead that a converter feeds by its own word: the bleeder only holds it down', () => {
    const floorA = depot.plausibility.currentFloorA;
    const proofs = (converter: object): readonly string[] => {
      const run = bleeding((ms) => 720 * Math.exp(-ms / tauMs), 12);
      Object.assign(run.scene.converter, converter);
      return run.reports(1).proofs;
    };
    expect(proofs({ state: 1 })).toContain('output-dead');
    expect(proofs({ state: 2, outputA: 0.5 })).toEqual(['plug-dead']);
    expect(proofs({ state: 1, outputA: floorA })).toContain('output-dead');
    expect(proofs({ state: 1, outputA: floorA + 0.1 })).toEqual(['plug-dead']);
    expect(proofs({ state: 1, outputA: -floorA - 0.1 })).toEqual(['plug-dead']);
    expect(proofs({ state: Number.NaN, outputA: Number.NaN })).toContain('output-dead');
  });
  it('calls a voltmeter unproven that went dead', () => {
    const run = bleeding((ms) => (ms < 0 ? 720 : 0), 6);
    expect(run.failing).toEqual(['voltmeter-unproven/plug']);
    expect(run.proofs).toEqual(['output-dead']);
  });
  it('lets the isolation device contradict, where it sits on the plug', () => {
    const run = bleeding((ms) => 720 * Math.exp(-ms / tauMs), 12);
    run.reports(1, (s) => Object.assign(s.isolation, { point: 3, positiveV: 300, negativeV: -300 }));
    expect(run.proofs).toEqual(['output-dead']);
  });
});

describe('elsewhere', () => {
  it('proves cold sides dead, with fresh readings only', () => {
    const run = new Run(residual, new Scene().enter('securing')).reports(3);
    expect(run.proofs).toEqual(['output-dead', 'plug-dead']);
    expect(run.tick(run.scene.rig.link.fastReadingMs + 1).proofs).toEqual([]);
  });
  it('gives make-safe the time of the device’s sequence before the deadline runs', () => {
    const scene = new Scene().charging(100);
    const run = new Run(residual, scene).reports(2);
    scene.enter('making-safe').order('makeSafe');
    // Nothing falls here: the output is accused first, the plug once its own time has run from its own start.
    const startMs = 1000 * 0.58;
    const dueMs = startMs + allowedMs(depot, 'plug');
    expect(run.reports(8).failing).toEqual([]);
    expect(run.reports(Math.floor(dueMs / 50) - 9).failing).not.toContain('plug-not-dead');
    expect(run.reports(4).failing).toContain('plug-not-dead');
  });
});

type Side = 'output' | 'plug';
const SIDES = [
  { side: 'output', key: 'outputOn', order: 'bleedOutput', code: 'output-not-dead', lateMs: 5150 },
  { side: 'plug', key: 'plugOn', order: 'bleedPlug', code: 'plug-not-dead', lateMs: 790 },
] as const;
const proofOf = (side: Side): string => `${side}-dead`;

/** Both sides live at 720 V, and neither being bled. */
function live<S extends Scene>(scene: S) {
  scene.charging(0, 'parting-train');
  scene.converter.state = 0;
  Object.assign(scene.train, { closedP: 0, closedN: 0 });
  return new Run(residual, scene).reports(4);
}
/** One sample of a side, with the extremes since the last. */
function sample(s: Scene, side: Side, volts: number, least = volts, most = volts): void {
  s.volts(side, volts);
  Object.assign(s.meter, { [`${side}MinV`]: least, [`${side}MaxV`]: most });
}

describe('the time to be dead', () => {
  const within = (deadWithinS: number): Rig => ({ ...depot, bleeder: { ...depot.bleeder, deadWithinS } });
  it.each([
    ['output: the limit', depot, 'output', 5000 + 150],
    ['plug: eight time constants', depot, 'plug', 640 + 150],
    ['plug: half a second at least, 40 ms being its time constant', shoes, 'plug', 500 + 150],
    ['plug: the limit where that is shorter', within(0.3), 'plug', 300 + 150],
    ['output: the limit however short', within(0.3), 'output', 300 + 150],
  ] as const)('%s', (_, rig, side, ms) => {
    expect(allowedMs(rig, side)).toBeCloseTo(ms, 9);
  });
});

describe.each(SIDES)('$side being bled', ({ side, order, code, lateMs }) => {
  /** Bled from now on, standing at these volts a moment later. */
  const bled = (volts: number, scene = new Scene()) => {
    const run = live(scene);
    scene.order('bleeder', { [order]: true });
    run.tick(0);
    sample(scene, side, volts);
    return run;
  };
  it('is stated alone, and only while it is bled', () => {
    expect(live(new Scene()).last.findings).toEqual([]);
    const run = bled(720);
    expect(run.last.findings.map((f) => [f.code, f.part])).toEqual([
      [code, undefined],
      ['voltmeter-unproven', side],
      ['bleeder-aborted', side],
    ]);
    expect(run.failing).toEqual([]);
    run.scene.order('bleeder', { [order]: false });
    expect(run.reports(1).last.findings).toEqual([]);
  });
  it('is late one millisecond after its time, and stays so', () => {
    const run = bled(100).burst(1, lateMs);
    expect(run.failing).not.toContain(code);
    expect(run.burst(1, 1).failing).toContain(code);
    const atMs = run.scene.nowMs;
    expect(run.finding(code)).toMatchObject({
      ...{ reading: 100, limit: 60, unit: 'V', setting: 'bleeder.safeV', sinceMs: atMs },
    });
    // The bleeder that was late cannot be relied on to keep the side dead.
    run.reports(10, (s) => sample(s, side, 0));
    expect(run.failing).toContain(code);
    expect(run.finding(code).sinceMs).toBe(atMs);
    expect(run.proofs).not.toContain(proofOf(side));
  });
  it('is not late below the safe voltage, and not judged without a new sample', () => {
    const run = bled(58).burst(1, lateMs).burst(1, 1);
    expect(run.failing).not.toContain(code);
    const blind = bled(720);
    blind.scene.frozen.add('meter');
    expect(blind.reports(200).failing).toEqual([]);
    const deaf = new PartialScene();
    deaf.missing.add('meter');
    expect(bled(720, deaf).reports(200).failing).toEqual([]);
  });
  it('has its time anew when it is bled again', () => {
    const run = bled(100).burst(1, lateMs);
    run.scene.order('bleeder', { [order]: false });
    run.burst(1, 10);
    run.scene.order('bleeder', { [order]: true });
    run.burst(1, 10).burst(1, lateMs);
    expect(run.failing).not.toContain(code);
    expect(run.burst(1, 1).failing).toContain(code);
  });
});

describe('a side that is fed while it is bled', () => {
  const fed = (side: Side, volts: number, trainV = Number.NaN, fromV = 720) => {
    const run = live(new Scene());
    run.scene.order('bleeder', { [side === 'output' ? 'bleedOutput' : 'bleedPlug']: true });
    sample(run.scene, side, fromV);
    run.burst(1, 0);
    sample(run.scene, side, volts);
    run.scene.train.trainV = trainV;
    return run;
  };
  const aborted = (side: Side) => `bleeder-aborted/${side}`;
  // 480 ms, 40 ms to open, and the margin; ten times 80 ms and the margin.
  it.each([
    ['output', 670, Number.NaN],
    ['plug', 950, 720],
  ] as const)('%s: is told %s ms after the bleeder was due, from then on', (side, dueMs, trainV) => {
    const run = fed(side, 720, trainV).burst(1, dueMs - 1);
    expect(run.failing).not.toContain(aborted(side));
    expect(run.burst(1, 1).failing).toContain(aborted(side));
    const atMs = run.scene.nowMs;
    expect(run.reports(3).finding('bleeder-aborted', side)).toMatchObject({
      ...{ reading: 720, limit: 60, unit: 'V', setting: 'bleeder.safeV', sinceMs: atMs },
    });
    expect(run.reports(1, (s) => sample(s, side, 300)).failing).not.toContain(aborted(side));
  });
  it.each([
    ['output', 'at 85 % of where it stood', 612, Number.NaN, 720, true],
    ['output', 'a little below', 611.9, Number.NaN, 720, false],
    ['output', 'safe to touch', 60, Number.NaN, 60, false],
    ['output', 'just not safe to touch', 60.1, Number.NaN, 60.1, true],
    ['plug', 'at 95 % of where it stood, with the train', 684, 684, 720, true],
    ['plug', 'a little below', 683.9, 683.9, 720, false],
    ['plug', '5 V from the train', 715, 720, 720, true],
    ['plug', 'more than 5 V from it', 714.9, 720, 720, false],
    ['plug', 'with a train that cannot be read', 720, Number.NaN, 720, false],
  ] as const)('%s: %s', (side, _, volts, trainV, fromV, isFed) => {
    const run = fed(side, volts, trainV, fromV).burst(1, 1000);
    expect(run.failing.includes(aborted(side))).toBe(isFed);
  });
  it('is not told without a train', () => {
    const scene = new PartialScene();
    const run = live(scene);
    scene.missing.add('train');
    scene.order('bleeder', { bleedPlug: true });
    expect(run.reports(40).failing).toEqual(['plug-not-dead']);
  });
});

describe.each(SIDES)('$side followed down', ({ side, key, order }) => {
  /** Two steps that only its bleeder can make; the first sample comes this long after `start`. */
  const afterP = side === 'output' ? 20 : 480;
  const follows = (start: (s: Scene) => void, afterMs: number, scene: Scene = new Scene()) => {
    const run = live(scene);
    const stepMs = side === 'output' ? 400 : 100;
    // Nothing arrives in between: the last sample before the first of these still reads 720 V.
    if (afterMs < stepMs) run.tick(stepMs - afterMs);
    start(scene);
    if (afterMs > stepMs) run.burst(1, afterMs - stepMs);
    sample(scene, side, 300, 300, 720);
    run.burst(1, Math.min(afterMs, stepMs));
    sample(scene, side, 40, 40, 300);
    run.burst(1, 1.6 * stepMs);
    sample(scene, side, 40);
    return run.burst(3, 50);
  };
  it('is dead by a bleeder that was ordered, is reported on, or that make-safe may have switched on', () => {
    const ordered = (s: Scene) => s.order('bleeder', { [order]: true });
    const reported = (s: Scene) => Object.assign(s.bleeder, { [key]: 1 });
    const madeSafe = (s: Scene) => s.order('makeSafe');
    expect(follows(ordered, 100).proofs).toContain(proofOf(side));
    expect(follows(reported, 100).proofs).toContain(proofOf(side));
    expect(follows(madeSafe, afterP).proofs).toContain(proofOf(side));
    expect(follows(madeSafe, afterP - 1).proofs).not.toContain(proofOf(side));
    expect(follows(() => {}, 100).proofs).not.toContain(proofOf(side));
    const deaf = new PartialScene();
    deaf.missing.add('bleeder');
    expect(follows(ordered, 100, deaf).proofs).toContain(proofOf(side));
  });
});

describe('what else a side must show', () => {
  const cold = (edit: (s: Scene) => void = () => {}, rig = depot) => {
    const run = new Run(residual, new Scene(rig).enter('securing'));
    return run.reports(3, edit).proofs;
  };
  // 60 V less the 2 V by which a voltmeter may err.
  it.each(['V', 'MinV', 'MaxV', 'PositiveV', 'NegativeV'])(
    'dead in %s: 58 V either way, not more',
    (field) => {
      for (const [side, other] of [
        ['output', 'plug'],
        ['plug', 'output'],
      ] as const)
        for (const sign of [1, -1]) {
          const reads = (volts: number) => cold((s) => Object.assign(s.meter, { [side + field]: volts }));
          expect(reads(58 * sign)).toEqual(['output-dead', 'plug-dead']);
          expect(reads(58.1 * sign)).toEqual([proofOf(other)]);
          expect(reads(Number.NaN)).toEqual([proofOf(other)]);
        }
    },
  );
  it('takes the converter’s word that its output is live, as long as it is fresh', () => {
    expect(cold((s) => Object.assign(s.converter, { outputV: -700 }))).toEqual(['plug-dead']);
    expect(cold((s) => Object.assign(s.converter, { outputV: Number.NaN }))).toHaveLength(2);
    const old = new Run(residual, new Scene().enter('securing')).reports(1);
    old.scene.frozen.add('converter');
    old.reports(8);
    old.scene.converter.outputV = 700;
    expect(old.reports(3).proofs).toEqual(['output-dead', 'plug-dead']);
    const fresh = new Run(residual, new Scene().enter('securing')).reports(1);
    fresh.scene.frozen.add('converter');
    fresh.reports(7);
    fresh.scene.converter.outputV = 700;
    expect(fresh.reports(1).proofs).toEqual(['plug-dead']);
  });
  it.each([
    [1, 1, -700, ['output-dead']],
    [1, 0, 700, ['output-dead', 'plug-dead']],
    [0, 1, 700, ['output-dead', 'plug-dead']],
    [1, 1, 60, ['output-dead', 'plug-dead']],
  ])('takes the train’s word through contactors at %s and %s: %s V', (closedP, closedN, trainV, proofs) => {
    const word = { closedP, closedN, trainV };
    expect(cold((s) => Object.assign(s.train, word))).toEqual(proofs);
    const old = new Run(residual, new Scene().enter('securing')).reports(1);
    old.scene.frozen.add('train');
    old.reports(8);
    Object.assign(old.scene.train, word);
    expect(old.reports(3).proofs).toEqual(['output-dead', 'plug-dead']);
  });
  it.each([
    [0, 600, false],
    [1, 600, false],
    [2, 60, false],
    [2, -60.1, true],
    [3, 60.1, true],
    [2, Number.NaN, true],
  ])('isolation device at point %s with %s V across: contradicts %s', (point, volts, contradicts) => {
    const proofs = cold((s) => Object.assign(s.isolation, { point, positiveV: volts, negativeV: 0 }));
    expect(proofs).toEqual(contradicts ? ['output-dead'] : ['output-dead', 'plug-dead']);
  });
  it('does without a train, a converter and an isolation device', () => {
    const scene = new PartialScene().enter('securing');
    for (const role of ['train', 'converter', 'isolation', 'bleeder'] as const) scene.missing.add(role);
    expect(new Run(residual, scene).reports(3).proofs).toEqual(['output-dead', 'plug-dead']);
  });
});

describe('within one report', () => {
  /** The shoes' plug falls with 40 ms: one report may reach from live to safe. */
  const fallen = (volts: number, least: number, most: number) => {
    const run = live(new Scene(shoes));
    run.scene.order('bleeder', { bleedPlug: true });
    return run.reports(1, (s) => sample(s, 'plug', volts, least, most));
  };
  const gone = (s: Scene) => sample(s, 'plug', 10);
  it('is dead when its extremes reach from live to safe, whichever pole is which', () => {
    expect(fallen(30, 30, 715).reports(3, gone).proofs).toContain('plug-dead');
    expect(fallen(-30, -715, -30).reports(3, gone).proofs).toContain('plug-dead');
    // Past zero: it has been at zero in between.
    expect(fallen(57, -5, 715).reports(3, gone).proofs).toContain('plug-dead');
  });
  it('is not followed by a report that ends half way, and a voltmeter that dies then', () => {
    expect(fallen(300, 300, 715).reports(3, gone).proofs).not.toContain('plug-dead');
    expect(fallen(-300, -715, -300).reports(3, gone).proofs).not.toContain('plug-dead');
  });
});

it('follows the decay by the device’s clock: reports held up on the way change nothing', () => {
  class Held extends Scene {
    clockMs = 0;
    override report(ms?: number): Observation {
      const seen = super.report(ms);
      const device = seen.device.map((d) => d && { ...d, value: { ...d.value, clockMs: this.clockMs } });
      return { ...seen, device };
    }
  }
  const scene = new Held();
  const run = live(scene);
  scene.order('bleeder', { bleedPlug: true });
  for (let k = 1; k <= 6; k++) {
    scene.clockMs = 100 * k;
    const at = (ms: number): number => 720 * Math.exp(-ms / 80);
    sample(scene, 'plug', at(100 * k), at(100 * k), at(100 * (k - 1)));
    // All six arrive within a few milliseconds.
    run.burst(1, 1);
  }
  expect(run.failing).toEqual([]);
  expect(run.proofs).toEqual(['plug-dead']);
});

it('is not proven dead after make-safe by volts read before it', () => {
  const run = new Run(residual, new Scene().enter('securing')).reports(4);
  expect(run.proofs).toEqual(['output-dead', 'plug-dead']);
  run.scene.enter('making-safe').order('makeSafe');
  for (const role of ['meter'] as const) run.scene.frozen.add(role);
  expect(run.reports(1).proofs).toEqual([]);
  run.scene.frozen.clear();
  expect(run.reports(1).proofs).toEqual(['output-dead', 'plug-dead']);
});
