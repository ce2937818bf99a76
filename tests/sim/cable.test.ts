import { describe, expect, test } from 'vitest';
import { Cable, coreOhm } from '../../simulators/cable.js';
import { Bench, rigOf } from './fixture.js';

describe('cable', () => {
  test('W9: 95 mm², 40 m of loop', () => {
    expect(coreOhm(95, 40, 1, 20) * 1000).toBeCloseTo(8.24, 3);
    expect(coreOhm(95, 40, 1, 70) * 1000).toBeCloseTo(9.859, 3);
    expect(coreOhm(95, 40, 1, 90) * 1000).toBeCloseTo(10.507, 3);
    expect(300 * coreOhm(95, 40, 1, 70)).toBeCloseTo(2.958, 3);
    expect(300 * 300 * coreOhm(95, 40, 1, 70)).toBeCloseTo(887.3, 1);
  });

  test('settles where heat in and heat out are equal, with its time constant', () => {
    const rig = rigOf('depot-cable');
    const cable = new Cable(rig, 30);
    const { thermalResistanceKPerW, thermalTimeConstantS } = rig.connection.cable;
    const step = () => cable.warm(0.1, 369 * 369);
    for (let k = 0; k < 10 * thermalTimeConstantS; k++) step();
    const riseAtTau = cable.conductorC - 30;
    for (let k = 0; k < 100 * thermalTimeConstantS; k++) step();
    const heatW = 369 * 369 * 2 * cable.coreOhm();
    expect(cable.conductorC - 30).toBeCloseTo(heatW * thermalResistanceKPerW, 1);
    expect(riseAtTau / (cable.conductorC - 30)).toBeGreaterThan(0.55);
    expect(riseAtTau / (cable.conductorC - 30)).toBeLessThan(0.67);
  });

  test('the drop from plug to train is current times what lies between', () => {
    const bench = new Bench();
    bench.chargeAt(300);
    const { circuit, cable } = bench.world.parts;
    const betweenOhm = circuit.lineOhm.p + circuit.lineOhm.n;
    expect(circuit.plugV() - circuit.trainV()).toBeCloseTo(circuit.lineA('p') * betweenOhm, 2);
    expect(betweenOhm).toBeGreaterThan(2 * cable.coreOhm());
  });

  test('a rising contact shows in the drop while its sensor is blind', () => {
    const bench = new Bench();
    bench.chargeAt(200);
    const { circuit } = bench.world.parts;
    const before = circuit.plugV() - circuit.trainV();
    bench.world.inject({ fault: 'contact-sensor-blind' });
    bench.world.inject({ fault: 'contact-resistance', magnitude: 2e-3 });
    bench.go(12_000);
    expect(circuit.plugV() - circuit.trainV() - before).toBeCloseTo(200 * 1.9e-3, 1);
    bench.go(300_000);
    expect(bench.world.parts.cable.contactC.p).toBeGreaterThan(50);
    expect(bench.world.read('meter').contactC).toBeLessThan(25);
  });
});
