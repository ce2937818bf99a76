import { describe, expect, it } from 'vitest';
import { loadText, refusal, variant } from './rig-files.js';

type Row = readonly [what: string, body: string, path: string, says: RegExp];
const v = (value: number) => `{ value: ${value}, source: for a test }`;

describe('worth knowing, but permitted', () => {
  const ROWS: readonly Row[] = [
    ['supply binds', `supply:\n  maxPowerW: ${v(200000)}`, 'supply.maxPowerW', /the supply binds first/],
    [
      'converter binds',
      `converter:\n  maxCurrentA: ${v(280)}\n  maxPowerW: ${v(230000)}`,
      'converter.maxCurrentA',
      /binds before/,
    ],
    [
      'power never reached',
      `converter:\n  maxPowerW: ${v(300000)}`,
      'converter.maxPowerW',
      /never be reached/,
    ],
    ['runaway', `contactors:\n  breakingCapacityA: ${v(310)}`, 'contactors.breakingCapacityA', /runaway/],
    [
      'softening',
      `connection:\n  contact:\n    maxDropV: ${v(0.3)}`,
      'connection.contact.maxDropV',
      /soften/,
    ],
    [
      'rafts bind',
      `battery:\n  raft:\n    maxCurrentA: ${v(60)}`,
      'battery.raft.maxCurrentA',
      /240 A together/,
    ],
    ['cold charge', `battery:\n  raft:\n    minChargeC: ${v(-5)}`, 'battery.raft.minChargeC', /graphite/],
    ['odd key of a kind', 'supply:\n  capacityKwh: 10', 'supply.capacityKwh', /not used/],
    ['known resistor', 'isolation:\n  knownOhm: 20000', 'isolation.knownOhm', /81000 ohm/],
    [
      'hot cable',
      'connection:\n  cable:\n    thermalResistanceKPerW: 0.052',
      'connection.cable.derateFromC',
      /derated/,
    ],
    [
      'hot contact',
      'connection:\n  contact:\n    thermalResistanceKPerW: 5',
      'connection.contact.derateFromC',
      /derated/,
    ],
  ];
  for (const [what, body, path, says] of ROWS) {
    it(what, () => {
      const { warnings } = loadText(variant(body));
      expect(warnings.map((w) => [w.path, w.message])).toEqual([[path, expect.stringMatching(says)]]);
    });
  }
});

describe('W12', () => {
  const at = (ambientC: number) =>
    variant(`connection:\n  cable:\n    ambientC: ${ambientC}\n    thermalResistanceKPerW: 0.03`);
  it('takes 95 mm² for 300 A at 50 °C and refuses it at 55 °C', () => {
    expect(loadText(at(50)).rig.connection.cable.ambientC).toBe(50);
    expect(refusal(at(55)).faults).toHaveLength(1);
  });
  it('takes 150 mm² on two drum layers', () => {
    const body = (mm2: number) =>
      variant(`connection:\n  cable:\n    ambientC: 30\n    drumLayers: 2\n    mm2: ${mm2}`);
    expect(loadText(body(150)).rig.connection.cable.mm2).toBe(150);
    expect(refusal(body(120)).message).toContain('take 150 mm²');
  });
});
