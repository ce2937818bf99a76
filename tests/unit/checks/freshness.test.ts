/**
 * Silence: of a role, of a port, and a device that acts on its own. On the depot a port may be silent for 400 ms, a
 * fast reading be 400 ms old and a slow one 2 s; a report comes every 50 ms.
 */
import { describe, expect, it } from 'vitest';
import { freshness } from '../../../src/checks/freshness.js';
import { loadRig } from '../../../src/rig/load.js';
import { PHASES, type Phase } from '../../../src/rig/roles.js';
import type { Rig } from '../../../src/rig/schema.js';
import { depot, Run, Scene, shoes } from './build.js';
import { PartialScene } from './partial-scene.js';

const split = loadRig('depot-split').rig;
const { periodMs, fastReadingMs, slowReadingMs, silenceMs } = depot.link;
const start = (scene: Scene = new Scene()) => new Run(freshness, scene.charging(200)).reports(3);
const linked = (change: Partial<Rig['link']>): Rig => ({ ...depot, link: { ...depot.link, ...change } });
const FAST = ['converter', 'meter', 'contactor', 'latch', 'berth', 'stop', 'loop'] as const;
const SLOW = ['isolation', 'bleeder', 'train', 'supply'] as const;
const ROLES = [
  ...FAST.map((role) => ({ role, limit: fastReadingMs, setting: 'link.fastReadingMs' })),
  ...SLOW.map((role) => ({ role, limit: slowReadingMs, setting: 'link.slowReadingMs' })),
];

describe('a role', () => {
  it('is content with a talking device', () => {
    const run = start();
    expect(run.failing).toEqual([]);
    for (const { code, sinceMs } of run.last.findings) expect(sinceMs, code).toBe(run.scene.nowMs);
  });
  it.each(ROLES)(
    '$role is named after $limit ms while frames go on, not before',
    ({ role, limit, setting }) => {
      const run = start();
      run.scene.frozen.add(role);
      expect(run.reports(limit / periodMs).failing).toEqual([]);
      expect(run.reports(1).failing).toEqual([`reading-stale/${role}`]);
      const firstMs = run.scene.nowMs;
      run.reports(2);
      expect(run.finding('reading-stale', role)).toMatchObject({
        ...{ reading: limit + 3 * periodMs, limit, unit: 'ms', setting, sinceMs: firstMs },
      });
      run.scene.frozen.clear();
      expect(run.reports(1).failing).toEqual([]);
      expect(run.finding('reading-stale', role).sinceMs).toBe(run.scene.nowMs);
    },
  );
  it('counts from its own first late sample, each anew', () => {
    const run = start();
    run.scene.frozen.add('meter');
    run.reports(2);
    run.scene.frozen.add('latch');
    run.reports(10);
    const since = (role: string) => run.finding('reading-stale', role).sinceMs;
    expect(since('latch') - since('meter')).toBe(2 * periodMs);
    run.scene.frozen.delete('meter');
    run.reports(1);
    run.scene.frozen.add('meter');
    run.reports(9);
    expect(since('meter')).toBe(run.scene.nowMs);
  });
  it('that was never heard is stale at once', () => {
    const scene = new PartialScene();
    scene.missing.add('berth');
    const run = start(scene);
    expect(run.failing).toEqual(['reading-stale/berth']);
    expect(run.finding('reading-stale', 'berth').reading).toBe(Number.POSITIVE_INFINITY);
  });
  it('is asked for only where a port serves it, the loop only where there is a pilot', () => {
    const asked = (rig: Rig) => start(new Scene(rig)).last.findings.flatMap((f) => f.part ?? []);
    expect(asked(depot).sort()).toEqual([...FAST, ...SLOW, 'charger', 'charger'].sort());
    const port = depot.link.ports[0]!;
    const bare = linked({ ports: [{ ...port, roles: ['meter', 'supply'] }] });
    expect(asked(bare).sort()).toEqual(['charger', 'charger', 'meter', 'supply']);
    const looped: Rig = { ...shoes, link: { ...shoes.link, ports: depot.link.ports } };
    expect(asked(looped)).not.toContain('loop');
    expect(asked(looped)).toContain('meter');
  });
  it('is excused while nothing comes from its port: for more than one and a half periods', () => {
    const quiet = (silentMs: number) => {
      const run = start();
      run.scene.frozen.add('meter');
      run.scene.portSilentMs[0] = silentMs;
      return run.reports(10).failing;
    };
    expect(quiet(75)).toEqual(['reading-stale/meter']);
    expect(quiet(75.1)).toEqual([]);
    // Two ports: the silence of one excuses nothing on the other.
    const run = start(new Scene(split));
    run.scene.frozen.add('meter').add('latch');
    run.scene.portSilentMs[0] = 100;
    expect(run.reports(10).failing).toEqual(['reading-stale/latch']);
  });
});

describe('a port', () => {
  it.each([
    ['silence, where the readings may be as old', depot, silenceMs, 'link.silenceMs'],
    ['its fast readings', linked({ fastReadingMs: 300 }), 300, 'link.fastReadingMs'],
    ['silence before older readings', linked({ fastReadingMs: 500 }), silenceMs, 'link.silenceMs'],
    [
      'its slow readings, where it has no fast ones',
      linked({
        fastReadingMs: 100,
        slowReadingMs: 350,
        ports: [{ ...split.link.ports[1]!, roles: ['supply'] }],
      }),
      350,
      'link.slowReadingMs',
    ],
    [
      'silence, where it has slow ones only',
      linked({ fastReadingMs: 300, ports: [{ ...split.link.ports[1]!, roles: ['supply', 'raft'] }] }),
      silenceMs,
      'link.silenceMs',
    ],
  ])('is bound by %s', (_, rig, limit, setting) => {
    const run = start(new Scene(rig));
    const name = rig.link.ports[0]!.name;
    run.scene.portSilentMs[0] = limit;
    expect(run.tick(1).failing).toEqual([]);
    run.scene.portSilentMs[0] = limit + 0.1;
    expect(run.tick(1).failing).toEqual([`link-silent/${name}`]);
    const firstMs = run.scene.nowMs;
    run.tick(100);
    expect(run.finding('link-silent')).toMatchObject({
      ...{ reading: limit + 0.1, limit, unit: 'ms', setting, sinceMs: firstMs },
    });
  });
  it('is blamed for its roles when nothing arrives', () => {
    const run = start();
    run.scene.portSilentMs[0] = 300;
    expect(run.tick(300).failing).toEqual([]);
    run.scene.portSilentMs[0] = 5000;
    expect(run.tick(4700).failing).toEqual(['link-silent/charger']);
  });
  it('that was never heard, or whose silence cannot be told, is silent', () => {
    for (const silentMs of [Number.POSITIVE_INFINITY, Number.NaN]) {
      const run = start();
      run.scene.portSilentMs[0] = silentMs;
      expect(run.tick(1).failing).toEqual(['link-silent/charger']);
    }
    const run = start();
    run.scene.portSilentMs.length = 0;
    expect(run.tick(1).failing).toEqual(['link-silent/charger']);
    expect(run.finding('link-silent').reading).toBe(Number.POSITIVE_INFINITY);
  });
});

describe('a device', () => {
  const held: readonly Phase[] = ['parked', 'released', 'making-safe', 'safe', 'not-proven-dead'];
  it.each([
    ['madeSafe', 1],
    ['madeSafe', Number.NaN],
    ['latched', 1],
    ['latched', Number.NaN],
  ] as const)('that reads %s at %s in a session has acted on its own', (field, value) => {
    for (const phase of PHASES) {
      const run = start(new Scene(split));
      run.scene.enter(phase);
      run.scene.device[1]![field] = value;
      const own = run.reports(1).failing.filter((code) => code.startsWith('device-made-safe'));
      expect(own, phase).toEqual(held.includes(phase) ? [] : ['device-made-safe/field']);
      if (held.includes(phase)) continue;
      const reading = field === 'madeSafe' ? value : 0;
      expect(run.finding('device-made-safe', 'field')).toMatchObject({
        ...{ reading, limit: 0, unit: '', setting: 'device.madeSafe' },
      });
    }
  });
  it('that makes itself safe by our order obeys', () => {
    const obeying = start();
    obeying.scene.order('makeSafe');
    obeying.reports(1, (s) => {
      s.device[0]!.madeSafe = 1;
    });
    expect(obeying.failing).toEqual([]);
  });
  it.each([1, Number.NaN])('refuses while parked by its latch at %s, and only then', (latched) => {
    const run = new Run(freshness, new Scene()).reports(1, (s) => {
      s.device[0]!.latched = latched;
    });
    expect(run.failing).toEqual(['device-latched/charger']);
    expect(run.finding('device-latched')).toMatchObject({
      ...{ reading: latched, limit: 0, unit: '', setting: 'device.latched' },
    });
    run.scene.enter('securing');
    expect(run.reports(1).failing).toEqual(['device-made-safe/charger']);
    run.scene.enter('making-safe');
    expect(run.reports(1).failing).toEqual([]);
    expect(new Run(freshness, new Scene()).reports(1).failing).toEqual([]);
  });
  it('that has said nothing of itself is judged by its port', () => {
    const scene = new PartialScene();
    scene.silentDevices.add(0);
    expect(start(scene).failing).toEqual([]);
    scene.enter('parked');
    expect(new Run(freshness, scene).reports(1).failing).toEqual([]);
  });
});

it('decides nothing once the plug is free: a device may be unplugged', () => {
  const run = start();
  run.scene.frozen.add('meter');
  run.reports(10);
  run.scene.enter('released');
  run.scene.portSilentMs[0] = 10_000;
  expect(run.tick(10_000).last).toEqual({ state: freshness.initial(depot), findings: [] });
});
