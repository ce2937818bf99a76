import path from 'node:path';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { packageRoot, realFiles } from '../../src/host/files.js';
import { InputError } from '../../src/host/input-error.js';
import { loadRig, shippedRigs } from '../../src/rig/load.js';
import { parseYaml, plain } from '../../src/rig/locate.js';
import { loadText, refusal, variant } from './rig-files.js';

const depotText = realFiles.readText(path.join(packageRoot(), 'config', 'depot-cable.yaml'));
const said = (error: InputError) => error.faults.map((f) => `${f.line} ${f.path}: ${f.message}`);

describe('shipped rigs', () => {
  it('are all there', () => {
    expect(shippedRigs()).toEqual(
      expect.arrayContaining([
        'depot-cable',
        'depot-split',
        'terminus-shoes',
        'twenty-modules',
        'yard-precharge',
      ]),
    );
  });

  it.each(shippedRigs())('%s loads, and every limit has a source', (name) => {
    const { rig, sources, hash, file } = loadRig(name);
    expect(rig.name).toBe(name);
    expect(file).toBe(path.join('config', `${name}.yaml`));
    expect(hash).toMatch(/^[0-9a-f]{64}$/);
    expect(sources.size).toBeGreaterThan(80);
    for (const source of sources.values()) expect(source.length).toBeGreaterThan(2);
  });

  it('warn of nothing but the two cores of the shoes rig', () => {
    const warned = shippedRigs().flatMap((name) => loadRig(name).warnings.map((w) => `${name} ${w.path}`));
    expect(warned).toEqual(['terminus-shoes connection.cable.coresPerPole']);
  });

  it('have one name each', () => {
    const names = shippedRigs().map((name) => loadRig(name).rig.name);
    expect(new Set(names).size).toBe(names.length);
  });
});

describe('a loaded rig', () => {
  it('is frozen all the way down', () => {
    const open: string[] = [];
    const visit = (value: unknown, at: string): void => {
      if (typeof value !== 'object' || value === null) return;
      if (!Object.isFrozen(value)) open.push(at);
      for (const [key, child] of Object.entries(value)) visit(child, `${at}.${key}`);
    };
    visit(loadRig('depot-cable').rig, 'rig');
    expect(open).toEqual([]);
  });

  it('holds limits as numbers and their sources beside them', () => {
    const { rig, sources } = loadRig('depot-cable');
    expect(rig.isolation.minOhmPerVolt).toBe(100);
    expect(sources.get('isolation.minOhmPerVolt')).toMatch(/^UN R100/);
  });

  it('has a hash of its figures, not of its comments or order', () => {
    const turned = depotText.replace(/# .*\n/g, '\n').replace(/journal:\n.*\n/, '');
    const moved = `journal:\n  maxLagMs: { value: 1000, source: invented for the demo rig }\n${turned}`;
    expect(loadText(moved).hash).toBe(loadRig('depot-cable').hash);
    expect(loadText(depotText.replace('coreOhm: 3', 'coreOhm: 4')).hash).not.toBe(
      loadRig('depot-cable').hash,
    );
  });
});

describe('finding a rig', () => {
  it('names the known ones when a bare name is unknown', () => {
    expect(() => loadRig('no-such-rig')).toThrow(
      /no rig named no-such-rig.*depot-cable, depot-emulated, depot-instruments, depot-module, depot-split/,
    );
  });
  it('says that a file is not there', () => {
    expect(() => loadRig('./nowhere.yaml')).toThrow(/nowhere\.yaml cannot be read: there is no such file/);
  });
  it('finds the package from its sources and from what was built of them', () => {
    const files = { ...realFiles, exists: (file: string) => file === path.join('/', 'p', 'package.json') };
    for (const from of ['/p/src/host/files.ts', '/p/dist/src/host/files.js']) {
      expect(packageRoot(files, from)).toBe(path.join('/', 'p'));
    }
    expect(() => packageRoot(files, '/q/files.js')).toThrow(/package is incomplete/);
  });
  it('throws one class with exit code 2', () => {
    const error = refusal('name: x');
    expect(error).toBeInstanceOf(InputError);
    expect(error.exitCode).toBe(2);
  });
});

describe('extends', () => {
  it('states only what differs', () => {
    const { rig, sources } = loadText(variant('pilot:\n  coreOhm: 5'));
    expect(rig.pilot?.coreOhm).toBe(5);
    expect(rig.pilot?.frequencyHz).toBe(80);
    expect(sources.get('pilot.maxSeriesOhm')).toMatch(/2081/);
  });
  it('reaches over several files', () => {
    const middle = variant('pilot:\n  coreOhm: 5').replace('name: try', 'name: middle');
    const { rig } = loadText(variant('pilot:\n  sourceOhm: 900', 'middle'), { 'middle.yaml': middle });
    expect([rig.pilot?.coreOhm, rig.pilot?.sourceOhm]).toEqual([5, 900]);
  });
  it('replaces lists and takes empty keys away', () => {
    const { rig } = loadText(
      variant(
        'battery:\n  rafts: [{ name: only, kind: battery }]\n  raft:\n    maxCurrentA: { value: 300, source: for a test }',
      ),
    );
    expect(rig.battery.rafts.map((r) => r.name)).toEqual(['only']);
    expect(loadRig('terminus-shoes').rig.pilot).toBeUndefined();
  });
  it('shows a fault in the file it came from', () => {
    const base = depotText.replace('coreOhm: 3', 'coreOhm: -3').replace('name: depot-cable', 'name: base');
    const [fault] = refusal(variant('journal:\n  maxLagMs: { value: 100, source: for a test }', 'base'), {
      'base.yaml': base,
    }).faults;
    expect(fault).toMatchObject({ file: 'base.yaml', path: 'pilot.coreOhm' });
    expect(base.split('\n')[fault!.line - 1]).toContain('coreOhm: -3');
  });
  it('wants a new source for a new value', () => {
    expect(said(refusal(variant('ramp:\n  upAPerS:\n    value: 10')))).toEqual([
      expect.stringMatching(/^5 ramp.upAPerS: the value is changed but its source is not/),
    ]);
  });
  it('wants a name and a title of its own', () => {
    expect(said(refusal('extends: depot-cable.yaml\npilot:\n  coreOhm: 4\n'))).toEqual([
      '1 name: a variant states its own name',
      '1 title: a variant states its own title',
    ]);
  });
  it('refuses a circle', () => {
    const other = variant('', 'try').replace('name: try', 'name: other');
    expect(refusal(variant('', 'other'), { 'other.yaml': other }).message).toContain(
      'try.yaml → other.yaml → try.yaml',
    );
  });
  it('refuses a file that is not there, and a chain without end', () => {
    expect(said(refusal(variant('', 'nowhere')))[0]).toBe(
      '1 extends: there is no file nowhere.yaml beside try.yaml',
    );
    const chain = Object.fromEntries(
      Array.from({ length: 12 }, (_, i) => [`c${i}.yaml`, variant('', `c${i + 1}`)]),
    );
    expect(refusal(variant('', 'c0'), chain).message).toContain('more than 8 files');
  });
});

describe('faults', () => {
  it('come all at once, those of the schema and those of the rules, in the order of the lines', () => {
    const error = refusal(
      variant(
        [
          'connection:', // 4
          '  cable:',
          '    lengthCm: 2000',
          '    mm2: 96',
          'pilot:', // 8
          '  coreOhm: minus three',
          '  sourceOhm: -1',
          'ramp:', // 11
          '  downAPerS: { value: 15, source: for a test }',
          '  upAPerS: 20',
          'link:', // 14
          '  periodMs: 12.5',
          '  deviceWatchdogMs: { value: 500, source: for a test }',
        ].join('\n'),
      ),
    );
    expect(said(error)).toEqual([
      '6 connection.cable.lengthCm: unknown key, did you mean lengthM (unit m)',
      '7 connection.cable.mm2: found 96, expected one of 35, 50, 70, 95, 120, 150, 185, 240, 300',
      '9 pilot.coreOhm: found "minus three", expected a number in ohm',
      '10 pilot.sourceOhm: found -1, expected above 0 ohm',
      '13 ramp.upAPerS: found 20, expected { value: 20, source: who vouches for it }',
      '15 link.periodMs: found 12.5, expected a whole number',
    ]);
    expect(error.message.split('\n')[0]).toBe('rig try.yaml cannot be used (6 faults):');
    expect(error.message).toContain('\n  try.yaml:6  connection.cable.lengthCm: unknown key');
  });

  it('of rules show beside those of the schema', () => {
    const error = refusal(
      variant('pilot:\n  coreOhm: -1\nbattery:\n  floorSoc: { value: 0.95, source: for a test }'),
    );
    expect(error.faults.map((f) => f.path)).toEqual(['pilot.coreOhm', 'battery.floorSoc']);
  });

  it('show a missing key at the map around it', () => {
    const broken = depotText.replace(/ {2}voltageV: .*\n/, '').replace('  coreOhm: 3\n', '');
    const { faults } = refusal(broken);
    expect(faults.map((f) => [broken.split('\n')[f.line - 1], f.path, f.message])).toEqual([
      ['pilot:', 'pilot.coreOhm', 'missing, expected a number in ohm'],
      ['plausibility:', 'plausibility.voltageV', 'missing, expected keys with values below it'],
    ]);
  });

  it.each([
    ['converter', 'maxCurrentMA', 'maxCurrentA (unit A)'],
    ['converter', 'maxCurrentKA', 'maxCurrentA (unit A)'],
    ['converter', 'maxPowerKw', 'maxPowerW (unit W)'],
    ['converter', 'currentLoopS', 'currentLoopMs (unit ms)'],
    ['converter', 'maxCurentA', 'maxCurrentA (unit A)'],
    ['link', 'periodS', 'periodMs (unit ms)'],
    ['isolation', 'knownKOhm', 'knownOhm (unit ohm)'],
    ['pilot', 'sourceV', 'sourceVrms (unit V r.m.s.)'],
    ['supply', 'capacityWh', 'capacityKwh (unit kWh)'],
    ['supply', 'knd', 'kind'],
  ])('know what %s.%s was meant for', (section, key, meant) => {
    expect(refusal(variant(`${section}:\n  ${key}: 1`)).message).toContain(`did you mean ${meant}`);
  });

  it('say so when a key resembles nothing', () => {
    expect(refusal(variant('pilot:\n  colour: red')).message).toContain(
      'pilot.colour: unknown key, it is not used here',
    );
  });

  it.each([
    ['a syntax fault', 'name: [', /not valid YAML/],
    ['a key twice', 'name: a\nname: b', /try\.yaml:2 .*unique/],
    ['an alias', 'name: &a x\ntitle: *a', /anchors and aliases/],
    ['an odd tag', 'name: !secret x', /not valid YAML/],
    ['no keys', '- 1\n- 2', /holds no keys/],
    ['nothing', '', /holds no keys/],
    ['a forbidden key', '__proto__: { value: 1 }', /plain word/],
    [
      'too deep',
      `a:\n${Array.from({ length: 40 }, (_, i) => `${' '.repeat(i + 1)}a:`).join('\n')}`,
      /nested deeper/,
    ],
    ['no number', depotText.replace('coreOhm: 3', 'coreOhm: .nan'), /pilot.coreOhm/],
    ['no end', depotText.replace('coreOhm: 3', 'coreOhm: .inf'), /pilot.coreOhm/],
  ])('of a file with %s are told, not thrown raw', (_what, text, says) => {
    expect(refusal(text).message).toMatch(says);
  });
});

describe('whatever is wrong with a rig', () => {
  const paths: (string | number)[][] = [];
  const collect = (value: unknown, at: (string | number)[]): void => {
    if (at.length > 0) paths.push(at);
    if (Array.isArray(value))
      value.forEach((v, i) => {
        collect(v, [...at, i]);
      });
    else if (typeof value === 'object' && value !== null)
      for (const [key, child] of Object.entries(value)) collect(child, [...at, key]);
  };
  collect(plain(parseYaml(depotText, 'depot')), []);

  it('is told as faults with lines, never thrown otherwise', () => {
    const odd = fc.oneof(
      fc.constant(undefined),
      fc.constant(null),
      fc.double(),
      fc.string(),
      fc.constant([]),
      fc.constant({}),
      fc.boolean(),
    );
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.constantFrom(...paths), odd), { minLength: 1, maxLength: 3 }),
        (changes) => {
          const data = plain(parseYaml(depotText, 'depot')) as Record<string, unknown>;
          for (const [keys, value] of changes) {
            let at: unknown = data;
            for (const key of keys.slice(0, -1))
              at = (at as Record<string, unknown> | undefined)?.[key as string];
            if (typeof at !== 'object' || at === null) continue;
            if (value === undefined) delete (at as Record<string, unknown>)[keys.at(-1) as string];
            else (at as Record<string, unknown>)[keys.at(-1) as string] = value;
          }
          // JSON is YAML; what JSON cannot say (NaN, Infinity) becomes null there.
          try {
            loadText(JSON.stringify(data, null, 1));
          } catch (error) {
            if (!(error instanceof InputError)) throw error;
            for (const fault of error.faults) expect(fault.line).toBeGreaterThan(0);
          }
        },
      ),
      { numRuns: 100 },
    );
  });
});
