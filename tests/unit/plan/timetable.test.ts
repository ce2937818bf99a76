/** Timetables that cannot be used: every fault at once, each with its line; and files that belong to a day. */
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { packageRoot, realFiles } from '../../../src/host/files.js';
import { dayTime, secondsOfDay } from '../../../src/plan/day-clock.js';
import { priceAt, RENEWABLES, renewableKw, STORE, TARIFF } from '../../../src/plan/day-files.js';
import { readDay } from '../../../src/plan/day-input.js';
import { readPlanning } from '../../../src/plan/planning-file.js';
import { filesOf } from './planning-files.js';

const shipped = realFiles.readText(path.join(packageRoot(), 'config/timetables/ellary-weekday.yaml'));
const FILES = {
  ...{ timetable: 'day.yaml', rigs: ['terminus-shoes', 'depot-cable'] },
  ...{ store: 'ellary-store', tariff: 'rural-two-peaks', renewables: 'ellary-roof' },
};

const DAY = `name: day
title: a day
from: "06:00"
until: "10:00"
ambientC: 15
berths:
  - { name: yard }
  - { name: shoes, rig: terminus-shoes }
trains:
  - name: one
    rig: terminus-shoes
    startSoc: 0.8
    startC: 15
    auxiliariesKw: 20
    calls:
      - { at: yard, arrives: "06:00", departs: "06:30" }
      - { at: shoes, arrives: "07:00", departs: "07:05", run: { energyKwh: 50 } }
      - { at: yard, arrives: "07:40", departs: "08:00", run: { energyKwh: 50 } }
  - name: two
    rig: terminus-shoes
    startSoc: 0.8
    startC: 15
    auxiliariesKw: 20
    calls:
      - { at: yard, arrives: "06:40", departs: "06:45" }
      - { at: shoes, arrives: "07:10", departs: "07:15", run: { energyKwh: 50 } }
`;

async function refused(text: string, over: Partial<typeof FILES> = {}): Promise<string> {
  try {
    await readDay({ ...FILES, ...over }, filesOf({ 'day.yaml': text }));
  } catch (error) {
    expect(error).toMatchObject({ name: 'InputError', exitCode: 2 });
    return (error as Error).message;
  }
  return '';
}
const lineOf = (text: string, part: string): number =>
  text.split('\n').findIndex((line) => line.includes(part)) + 1;

describe('a timetable', () => {
  it('as it stands can be used', async () => expect(await refused(DAY)).toBe(''));

  it.each([
    [
      'an overlap at one berth',
      'arrives: "07:10", departs: "07:15"',
      'arrives: "07:03", departs: "07:15"',
      /one is at shoes from 07:00 to 07:05: no room for two/,
    ],
    [
      'a rig nobody gave',
      'name: shoes, rig: terminus-shoes',
      'name: shoes, rig: depot-split',
      /there is no rig depot-split among those given by --rig: terminus-shoes, depot-cable/,
    ],
    [
      'another unit',
      'ambientC: 15',
      'ambientF: 59',
      /ambientF: unknown key, did you mean ambientC \(unit degC\)/,
    ],
    [
      'a departure before the arrival',
      'departs: "07:05"',
      'departs: "06:55"',
      /time goes backwards: it departs at 06:55 and arrives at 07:00/,
    ],
    [
      'a call before the one before',
      'arrives: "07:40", departs: "08:00"',
      'arrives: "06:50", departs: "06:55"',
      /time goes backwards: the call before is at 07:00/,
    ],
    [
      'a train in two places',
      'arrives: "07:40", departs: "08:00"',
      'arrives: "07:02", departs: "08:00"',
      /the train is in two places: at shoes until 07:05, and here from 07:02/,
    ],
    [
      'a berth that is none',
      '{ at: yard, arrives: "07:40"',
      '{ at: yart, arrives: "07:40"',
      /there is no berth yart; berths: yard, shoes/,
    ],
    [
      'a run that is missing',
      'arrives: "07:40", departs: "08:00", run: { energyKwh: 50 }',
      'arrives: "07:40", departs: "08:00"',
      /missing: how the train comes here from shoes/,
    ],
    [
      'a time that is none',
      'arrives: "07:40"',
      'arrives: "7.40"',
      /found "7\.40", expected a time of day, e\.g\. 06:40/,
    ],
    [
      'a call beyond the day',
      'departs: "08:00"',
      'departs: "11:00"',
      /expected within the day, 06:00 to 10:00/,
    ],
    [
      'a route that is none',
      'arrives: "07:40", departs: "08:00", run: { energyKwh: 50 }',
      'arrives: "07:40", departs: "08:00", run: { route: nowhere }',
      /there is no route named nowhere; known names: tarnholt-ellary/,
    ],
    [
      'a route that takes longer',
      'arrives: "07:40", departs: "08:00", run: { energyKwh: 50 }',
      'arrives: "07:20", departs: "08:00", run: { route: tarnholt-ellary }',
      /takes 00:2\d:\d\d h; between 07:05 and 07:20 there is less time/,
    ],
  ] as const)('with %s says so, with the line', async (_, from, to, what) => {
    expect(DAY).toContain(from);
    const text = DAY.replace(from, to);
    const said = await refused(text);
    expect(said).toMatch(what);
    const line = said.split('\n').find((l) => what.test(l));
    expect(line).toContain(`day.yaml:${lineOf(text, to)}  `);
  });

  it('says all of it at once, also what stands in other files', async () => {
    const text = DAY.replace('ambientC: 15', 'ambientF: 59')
      .replace('name: shoes, rig: terminus-shoes', 'name: shoes, rig: depot-split')
      .replace('arrives: "07:10"', 'arrives: "07:03"')
      .replace('departs: "08:00"', 'departs: "07:30"');
    const said = await refused(text, { store: 'no-store' });
    for (const what of [
      /ambientF: unknown key/,
      /no rig depot-split/,
      /no room for two/,
      /time goes backwards/,
      /no store named no-store/,
    ])
      expect(said).toMatch(what);
  });
  it('a call that cannot be read hides no other fault, and makes none up', async () => {
    const text = DAY.replace('arrives: "07:00"', 'arrives: noon').replace(
      'at: yard, arrives: "06:40"',
      'at: gone, arrives: "06:40"',
    );
    const said = await refused(text);
    expect(said).toMatch(/\(2 faults\)/);
    expect(said).toMatch(new RegExp(`day.yaml:${lineOf(text, 'at: gone')} {2}trains.1.calls.0.at`));
  });
  it('that is shipped is a whole day', async () => {
    const input = await readDay(FILES, filesOf({ 'day.yaml': shipped }));
    expect(input.day.trains).toHaveLength(3);
    const pair = input.pairAt(input.day.trains[0]!, 'bay-1')!;
    // The charger's limits with the train's battery.
    expect(pair.rig.connection.ratedCurrentA).toBe(300);
    expect(pair.rig.battery.rafts).toHaveLength(6);
    expect(pair.lead.toCurrentS).toBeGreaterThan(3);
  });
});

describe('files of a day', () => {
  it('times are read and written alike', () => {
    for (const text of ['00:00', '06:40', '23:59:59', '24:10'])
      expect(dayTime(secondsOfDay(text))).toBe(text);
  });
  it('a price holds until the next, and the next day begins as the first', () => {
    const tariff = readPlanning(TARIFF, 'rural-two-peaks').value;
    expect(priceAt(tariff, secondsOfDay('05:59:59'))).toBe(0.11);
    expect(priceAt(tariff, secondsOfDay('06:00'))).toBe(0.24);
    expect(priceAt(tariff, secondsOfDay('30:00'))).toBe(0.24);
  });
  it('renewables go straight between their points, and give nothing outside', () => {
    const roof = readPlanning(RENEWABLES, 'ellary-roof').value;
    expect(renewableKw(roof, secondsOfDay('06:29'))).toBe(0);
    expect(renewableKw(roof, secondsOfDay('07:15'))).toBe(6);
    expect(renewableKw(roof, secondsOfDay('19:01'))).toBe(0);
    expect(renewableKw(null, secondsOfDay('12:00'))).toBe(0);
  });
  it('a store whose floor is above its ceiling is refused', () => {
    const text = realFiles.readText(path.join(packageRoot(), 'config/stores/ellary-store.yaml'));
    const bad = filesOf({ 's.yaml': text.replace('floorShare: 0.1', 'floorShare: 0.96') });
    expect(() => readPlanning(STORE, 's.yaml', bad)).toThrow(
      /ceilingShare: found 0\.95, expected more than floorShare/,
    );
  });
});
