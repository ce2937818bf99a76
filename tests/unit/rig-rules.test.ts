import { describe, expect, it } from 'vitest';
import { lineOf, refusal, variant } from './rig-files.js';

/** Each row breaks one rule and nothing else: what is changed, where the fault is shown, what it must say. */
type Row = readonly [what: string, body: string, path: string, says: RegExp, base?: string];

const v = (value: number) => `{ value: ${value}, source: for a test }`;
const ports = (roles: string) => `link:\n  ports:\n    - { name: charger, baud: 460800, roles: [${roles}] }`;
const ALL = 'converter, meter, loop, isolation, contactor, bleeder, latch, berth, train, supply, stop';
const wide = `battery:\n  raft:\n    cell:\n      ocv:\n`;

const ROWS: readonly Row[] = [
  // connection
  [
    'cable at 55 °C',
    'connection:\n  cable:\n    ambientC: 55\n    thermalResistanceKPerW: 0.03',
    'connection.cable.mm2',
    /carries 280\.4 A at 55 °C.*take 120 mm²/,
  ],
  [
    'two drum layers',
    'connection:\n  cable:\n    ambientC: 30\n    drumLayers: 2',
    'connection.cable.mm2',
    /239\.8 A.*take 150 mm²/,
  ],
  [
    'a section not in the table',
    'connection:\n  cable:\n    mm2: 50\n    thermalResistanceKPerW: 0.01',
    'connection.cable.mm2',
    /no rating for 50 mm²/,
  ],
  [
    'conductor above its insulation',
    `connection:\n  cable:\n    maxConductorC: ${v(95)}`,
    'connection.cable.maxConductorC',
    /95 °C is above what epr-xlpe bears, 90/,
  ],
  [
    'conductor derating late',
    `connection:\n  cable:\n    derateFromC: ${v(90)}`,
    'connection.cable.derateFromC',
    /below maxConductorC/,
  ],
  [
    'conductor too hot',
    'connection:\n  cable:\n    thermalResistanceKPerW: 0.08',
    'connection.cable.thermalResistanceKPerW',
    /settles at/,
  ],
  [
    'contact derating late',
    `connection:\n  contact:\n    derateFromC: ${v(95)}`,
    'connection.contact.derateFromC',
    /below maxC/,
  ],
  [
    'contact drop',
    'connection:\n  contact:\n    resistanceOhm: 0.0004\n    thermalResistanceKPerW: 0.5',
    'connection.contact.maxDropV',
    /drops 0\.12 V at 300 A/,
  ],
  ['cable without pilot', 'pilot: null', 'pilot', /needs its pilot loop/],
  [
    'shoes with pilot',
    'pilot:\n  sourceVrms: 12\n  sourceOhm: 1000\n  frequencyHz: 80\n  coreOhm: 3\n  diodeDropV: 0.7\n  samplesPerPeriod: 50\n  periodsPerWindow: 4\n' +
      `  maxSeriesOhm: ${v(45)}\n  minShuntOhm: ${v(1250)}\n  genuineShuntOhm: ${v(3000)}`,
    'pilot',
    /no pilot loop/,
    'terminus-shoes',
  ],
  [
    'pilot on 50 Hz',
    'pilot:\n  frequencyHz: 102',
    'pilot.frequencyHz',
    /102 Hz lies 2 Hz from a multiple of 50/,
  ],
  [
    'pilot on 60 Hz',
    'pilot:\n  frequencyHz: 182\n  periodsPerWindow: 9',
    'pilot.frequencyHz',
    /multiple of 60/,
  ],
  [
    'pilot window',
    `pilot:\n  periodsPerWindow: 5\nlink:\n  fastReadingMs: ${v(300)}`,
    'pilot.periodsPerWindow',
    /62\.5 ms/,
  ],
  ['pilot core', 'pilot:\n  coreOhm: 45', 'pilot.maxSeriesOhm', /above the new loop/],
  ['pilot shunts', `pilot:\n  genuineShuntOhm: ${v(1250)}`, 'pilot.genuineShuntOhm', /above minShuntOhm/],
  ['pilot touch', 'pilot:\n  sourceVrms: 48', 'pilot.sourceVrms', /67\.88 V/],
  // charger
  ['converter range', `converter:\n  minVoltageV: ${v(860)}\n`, 'converter.minVoltageV', /below maxVoltageV/],
  ['converter too low', `converter:\n  maxVoltageV: ${v(790)}`, 'converter.maxVoltageV', /make 791 V/],
  ['converter too high', `converter:\n  minVoltageV: ${v(600)}`, 'converter.minVoltageV', /make 576 V/],
  ['load dump', 'converter:\n  currentLoopMs: 2', 'converter.capacitanceF', /by 75 V/],
  ['match current', 'converter:\n  voltageSlopeVPerS: 600', 'converter.matchCurrentA', /takes 4\.8 A/],
  ['match openable', 'converter:\n  matchCurrentA: 6', 'converter.matchCurrentA', /routineBreakA/],
  ['match limit', `contactors:\n  matchV: ${v(21)}`, 'contactors.matchV', /at most 20 V/],
  ['probe', `contactors:\n  probeV: ${v(3)}`, 'contactors.probeV', /above closedDropV/],
  [
    'rush at closing',
    `contactors:\n  breakingCapacityA: ${v(320)}\n  matchV: ${v(19)}`,
    'contactors.matchV',
    /rush in/,
  ],
  [
    'breaking below rated',
    `contactors:\n  breakingCapacityA: ${v(290)}`,
    'contactors.breakingCapacityA',
    /could not open/,
  ],
  [
    'routine above breaking',
    `contactors:\n  routineBreakA: ${v(700)}`,
    'contactors.routineBreakA',
    /breakingCapacityA/,
  ],
  ['hold point', `ramp:\n  holdPointShare: ${v(0.2)}`, 'ramp.holdPointShare', /at most 0\.1/],
  ['hold point unseen', `ramp:\n  holdPointShare: ${v(0.01)}`, 'ramp.holdPointShare', /cannot be told/],
  ['end current', `ramp:\n  endCurrentA: ${v(300)}`, 'ramp.endCurrentA', /below connection/],
  ['down gentler than up', `ramp:\n  downAPerS: ${v(15)}`, 'ramp.downAPerS', /gentler/],
  [
    'emergency gentler than down',
    `ramp:\n  emergencyDownAPerS: ${v(90)}`,
    'ramp.emergencyDownAPerS',
    /gentler/,
  ],
  ['supply slope', `supply:\n  slopeKwPerS: ${v(15)}`, 'ramp.upAPerS', /15\.82 kW\/s/],
  ['no pre-charge', 'precharge: null', 'precharge', /cannot match by itself/, 'yard-precharge'],
  [
    'needless pre-charge',
    'converter:\n  matchesVoltage: true\n  matchCurrentA: 4',
    'precharge',
    /matches by itself/,
    'yard-precharge',
  ],
  [
    'pre-charge too slow',
    `precharge:\n  maxS: ${v(1.5)}`,
    'precharge.maxS',
    /takes 1\.839 s/,
    'yard-precharge',
  ],
  [
    'output bleeds too slowly',
    `bleeder:\n  outputOhm: 240\n  maxOnS: ${v(20)}`,
    'bleeder.outputOhm',
    /5\.09 s.*at most 235\.8 ohm/,
  ],
  ['bleeder time', `bleeder:\n  maxOnS: ${v(3)}`, 'bleeder.maxOnS', /takes 3\.132 s/],
  ['bleeder energy', `bleeder:\n  maxEnergyJ: ${v(2500)}`, 'bleeder.maxEnergyJ', /2890 J/],
  ['open pole unseen', `plausibility:\n  voltageV: ${v(48)}`, 'bleeder.outputOhm', /prove P open/],
  // isolation
  ['isolation floor', `isolation:\n  minOhmPerVolt: ${v(90)}`, 'isolation.minOhmPerVolt', /at least 100/],
  [
    'isolation floor with AC',
    'isolation:\n  joinedToAcSide: true',
    'isolation.minOhmPerVolt',
    /at least 500/,
  ],
  ['isolation order', `isolation:\n  warnOhmPerVolt: ${v(99)}`, 'isolation.warnOhmPerVolt', /minOhmPerVolt/],
  [
    'raft isolation',
    `battery:\n  raft:\n    minIsolationOhmPerVolt: ${v(50)}`,
    'battery.raft.minIsolationOhmPerVolt',
    /then refuses/,
  ],
  ['working voltage', `isolation:\n  workingVoltageV: ${v(750)}`, 'isolation.workingVoltageV', /806\.4 V/],
  ['stored charge', 'isolation:\n  network:\n    trainF: 3.0e-7', 'isolation.maxStoredJ', /0\.2493 J/],
  ['new network', 'isolation:\n  network:\n    cableOhm: 400000', 'isolation.network', /425\.7 ohm\/V/],
  ['known resistor settles', 'isolation:\n  knownOhm: 1.0e+6', 'isolation.checkMaxS', /two settled readings/],
  ['injection settles', 'isolation:\n  injectionOhm: 2.0e+7', 'isolation.checkMaxS', /injecting/],
  // battery
  [
    'table ends',
    `${wide}        - { soc: 0, v: 3.1 }\n        - { soc: 0.5, v: 3.6 }\n        - { soc: 0.95, v: 4.1 }`,
    'battery.raft.cell.ocv',
    /from 0 to 0\.95/,
  ],
  [
    'table order',
    `${wide}        - { soc: 0, v: 3.1 }\n        - { soc: 0.5, v: 3.6 }\n        - { soc: 0.5, v: 3.7 }\n        - { soc: 1, v: 4.1 }`,
    'battery.raft.cell.ocv.2.soc',
    /above 0\.5/,
  ],
  [
    'table falls',
    `${wide}        - { soc: 0, v: 3.3 }\n        - { soc: 0.5, v: 3.6 }\n        - { soc: 0.6, v: 3.55 }\n        - { soc: 1, v: 4.1 }`,
    'battery.raft.cell.ocv.2.v',
    /below the 3\.6 V/,
  ],
  ['floor and ceiling', `battery:\n  floorSoc: ${v(0.9)}`, 'battery.floorSoc', /below ceilingSoc/],
  [
    'ceiling and maximum',
    `battery:\n  raft:\n    ceilingCellV: ${v(4.2)}`,
    'battery.raft.ceilingCellV',
    /tapers/,
  ],
  [
    'ceiling below the target',
    `battery:\n  raft:\n    ceilingCellV: ${v(4.05)}`,
    'battery.raft.ceilingCellV',
    /never be reached/,
  ],
  [
    'minimum above the floor',
    `battery:\n  raft:\n    minCellV: ${v(3.5)}`,
    'battery.raft.minCellV',
    /would be refused/,
  ],
  [
    'cell spread',
    `battery:\n  raft:\n    maxCellSpreadV: ${v(1.3)}`,
    'battery.raft.maxCellSpreadV',
    /whole range/,
  ],
  [
    'cold limit',
    `battery:\n  raft:\n    minChargeC: ${v(40)}`,
    'battery.raft.minChargeC',
    /below derateFromC/,
  ],
  [
    'hot limit',
    `battery:\n  raft:\n    derateFromC: ${v(45)}`,
    'battery.raft.derateFromC',
    /below maxChargeC/,
  ],
  [
    'train too low',
    'battery:\n  raft:\n    seriesCells: 146\nconverter:\n  currentLoopMs: 1',
    'battery.raft.seriesCells',
    /more cells in series/,
  ],
  [
    'raft names',
    'battery:\n  rafts:\n    - { name: a, kind: battery }\n    - { name: b, kind: battery }\n    - { name: a, kind: battery }',
    'battery.rafts.2.name',
    /a is taken/,
  ],
  [
    'no battery raft',
    'battery:\n  rafts:\n    - { name: a, kind: generator }',
    'battery.rafts',
    /no battery raft/,
  ],
  [
    'join current',
    `battery:\n  raft:\n    joinCurrentA: ${v(130)}`,
    'battery.raft.joinCurrentA',
    /maxCurrentA/,
  ],
  ['engine set without inertia', 'supply:\n  inertiaS: null', 'supply.inertiaS', /engine-set needs it/],
  [
    'store without capacity',
    'supply:\n  capacityKwh: null',
    'supply.capacityKwh',
    /store needs it/,
    'terminus-shoes',
  ],
  ['supply volts', `supply:\n  minVoltageV: ${v(400)}`, 'supply.minVoltageV', /below nominalVoltageV/],
  ['supply droop', 'supply:\n  droopPercent: 7', 'supply.minFrequencyHz', /under full load/],
  // link
  ['watchdog under three periods', `link:\n  deviceWatchdogMs: ${v(149)}`, 'link.deviceWatchdogMs', /150 ms/],
  [
    'watchdog over silence',
    `link:\n  deviceWatchdogMs: ${v(401)}`,
    'link.deviceWatchdogMs',
    /silenceMs, 400/,
  ],
  ['fast age too short', `link:\n  fastReadingMs: ${v(120)}`, 'link.fastReadingMs', /at least 150 ms/],
  ['fast age too long', `link:\n  fastReadingMs: ${v(500)}`, 'link.fastReadingMs', /silenceMs/],
  ['slow age', `link:\n  slowReadingMs: ${v(150)}`, 'link.slowReadingMs', /fastReadingMs/],
  ['answer', `link:\n  answerMs: ${v(90)}`, 'link.answerMs', /two periods/],
  ['authority life', `link:\n  authorityLifeMs: ${v(300)}`, 'link.authorityLifeMs', /renewed/],
  ['role missing', ports(`${ALL.replace(', stop', '')}, raft`), 'link.ports', /no port serves stop/],
  ['raft missing', ports(`${ALL}, raft1, raft2, raft4`), 'link.ports', /no port serves raft3/],
  [
    'role twice',
    ports(`${ALL}, raft, meter`),
    'link.ports.0.roles.12',
    /meter is already served by port charger/,
  ],
  ['raft twice', ports(`${ALL}, raft, raft2`), 'link.ports.0.roles.12', /raft2 is already served/],
  ['raft beyond', ports(`${ALL}, raft, raft5`), 'link.ports.0.roles.12', /battery.rafts has 4/],
  ['loop on shoes', ports(`${ALL}, raft`), 'link.ports.0.roles.2', /no pilot loop/, 'terminus-shoes'],
  [
    'port names',
    'link:\n  ports:\n    - { name: a, baud: 460800, roles: [converter, meter] }\n    - { name: a, baud: 460800, roles: [loop, isolation, contactor, bleeder, latch, berth, train, raft, supply, stop] }',
    'link.ports.1.name',
    /a is taken/,
  ],
  [
    'link load',
    `tripTimes:\n  loopMs: ${v(500)}\nlink:\n  ports:\n    - { name: charger, baud: 230400, roles: [${ALL}, raft] }`,
    'link.ports.0.baud',
    /69\.7 %/,
  ],
  [
    'loop trip time',
    `tripTimes:\n  loopMs: ${v(300)}`,
    'tripTimes.loopMs',
    /320\.9 ms at the worst.*pilot window 50/,
  ],
  ['stop trip time', `tripTimes:\n  stopChainMs: ${v(250)}`, 'tripTimes.stopChainMs', /270\.9 ms/],
  [
    'over-current trip time',
    `tripTimes:\n  overCurrentMs: ${v(250)}`,
    'tripTimes.overCurrentMs',
    /270\.9 ms/,
  ],
  [
    'reverse trip time',
    `tripTimes:\n  reverseCurrentMs: ${v(250)}`,
    'tripTimes.reverseCurrentMs',
    /270\.9 ms/,
  ],
  [
    'over-voltage trip time',
    `tripTimes:\n  overVoltageMs: ${v(250)}`,
    'tripTimes.overVoltageMs',
    /270\.9 ms/,
  ],
  ['isolation trip time', `tripTimes:\n  isolationMs: ${v(15000)}`, 'tripTimes.isolationMs', /15270 ms/],
  ['cell trip time', `tripTimes:\n  cellMs: ${v(2000)}`, 'tripTimes.cellMs', /2271 ms/],
  ['silence trip time', `tripTimes:\n  silenceMs: ${v(700)}`, 'tripTimes.silenceMs', /753\.5 ms/],
  ['plug pulled', 'bleeder:\n  plugOhm: 100000', 'bleeder.plugOhm', /pins of a pulled plug.*1026 ms/],
  // times
  ['isolation phase', `times:\n  isolationS: ${v(9)}`, 'times.isolationS', /at least 10 s/],
  ['joining phase', `times:\n  joiningS: ${v(4)}`, 'times.joiningS', /at least 5 s/],
  ['matching phase', `times:\n  matchingS: ${v(2)}`, 'times.matchingS', /2\.637 s/],
  ['pre-charge phase', `times:\n  matchingS: ${v(3)}`, 'times.matchingS', /at least 4 s/, 'yard-precharge'],
  ['closing phase', `times:\n  closingS: ${v(0.1)}`, 'times.closingS', /0\.12 s/],
  ['ramping phase', `times:\n  rampingS: ${v(16)}`, 'times.rampingS', /at least 17 s/],
  ['ramping down phase', `times:\n  rampingDownS: ${v(2.9)}`, 'times.rampingDownS', /at least 3 s/],
  ['opening phase', `times:\n  openingS: ${v(0.05)}`, 'times.openingS', /0\.08 s/],
  ['bleeding phase', `times:\n  bleedingS: ${v(4)}`, 'times.bleedingS', /at least 5 s/],
  ['make-safe phase', `times:\n  makingSafeS: ${v(5)}`, 'times.makingSafeS', /5\.62 s/],
];

describe('each rule is broken by one rig, alone, and shown at its line', () => {
  for (const [what, body, path, says, base] of ROWS) {
    it(what, () => {
      const text = variant(body, base);
      const { faults } = refusal(text);
      expect(faults.map((f) => [f.path, f.message])).toEqual([[path, expect.stringMatching(says)]]);
      const keys = path.split('.').filter((key) => Number.isNaN(Number(key)));
      // A key that is not there is shown at the map around it.
      const isAbsent = /^missing|: add `/.test(faults[0]!.message);
      const shown = lineOf(faults[0]!.file, faults[0]!.line, { 'try.yaml': text });
      expect(shown).toContain(isAbsent ? (keys.at(-2) ?? '') : keys.at(-1));
    });
  }
});
