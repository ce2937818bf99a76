/** Converter, ramp, contactors, pre-charge, bleeders. */
import { MAKE_SAFE } from '../make-safe.js';
import { cableLoopOhm } from '../ratings.js';
import { batteryRafts, openCircuitV, packV, raftStepOhm } from '../volts.js';
import { num, type Rule } from './rule.js';

/** Within this of the train before closing. IEC 61851-23 analogy, from memory, unverified. */
const MOST_MATCH_V = 20;
/** Highest share of the rated current for the hold point. */
const MOST_HOLD_SHARE = 0.1;
/** Output after a lost load, over what it was. IEC 61851-23 analogy, from memory, unverified. */
const MOST_DUMP_SHARE = 0.1;
/** Exposed pins dead. IEC 60204-1 6.2.4, published. */
const PINS_DEAD_S = 1;

const converterRange: Rule = ({ converter: c, connection, battery: { raft } }, fault, warn) => {
  if (!(c.minVoltageV < c.maxVoltageV)) {
    fault(
      'converter.minVoltageV',
      `${num(c.minVoltageV)} V must be below maxVoltageV, ${num(c.maxVoltageV)} V`,
    );
    return;
  }
  const highV = raft.seriesCells * raft.ceilingCellV;
  if (!(highV <= c.maxVoltageV)) {
    fault(
      'converter.maxVoltageV',
      `${raft.seriesCells} cells at ceilingCellV ${num(raft.ceilingCellV)} V make ${num(highV)} V, the converter ` +
        `ends at ${num(c.maxVoltageV)} V: fewer cells, a lower ceiling or another converter`,
    );
  }
  const lowV = raft.seriesCells * raft.minCellV;
  if (!(lowV >= c.minVoltageV)) {
    fault(
      'converter.minVoltageV',
      `${raft.seriesCells} cells at minCellV ${num(raft.minCellV)} V make ${num(lowV)} V, the converter begins at ` +
        `${num(c.minVoltageV)} V: it could not match an empty pack`,
    );
  }
  if (c.maxPowerW > c.maxVoltageV * c.maxCurrentA) {
    warn(
      'converter.maxPowerW',
      `${num(c.maxPowerW)} W can never be reached with ${num(c.maxCurrentA)} A at ${num(c.maxVoltageV)} V`,
    );
  }
  if (c.maxCurrentA < connection.ratedCurrentA) {
    warn(
      'converter.maxCurrentA',
      `binds before connection.ratedCurrentA, ${num(connection.ratedCurrentA)} A`,
    );
  }
};

const loadDump: Rule = ({ converter, connection, battery }, fault) => {
  const currentA = Math.min(converter.maxCurrentA, connection.ratedCurrentA);
  const riseV = (currentA * converter.currentLoopMs) / 1000 / converter.capacitanceF;
  const lowV = battery.raft.seriesCells * openCircuitV(battery.raft.cell, battery.floorSoc);
  const mostV = MOST_DUMP_SHARE * lowV;
  if (riseV <= mostV || Number.isNaN(lowV)) return;
  fault(
    'converter.capacitanceF',
    `losing ${num(currentA)} A lifts the output by ${num(riseV)} V within currentLoopMs ` +
      `(${num(converter.currentLoopMs)} ms), more than 10 % of the lowest train voltage (${num(mostV)} V): a larger ` +
      'capacitor or a faster loop',
  );
};

const matching: Rule = (rig, fault) => {
  const { converter: c, contactors: k } = rig;
  if (c.matchesVoltage) {
    const needsA = c.voltageSlopeVPerS * c.capacitanceF;
    if (!(needsA <= c.matchCurrentA)) {
      fault(
        'converter.matchCurrentA',
        `lifting ${num(c.capacitanceF)} F at ${num(c.voltageSlopeVPerS)} V/s takes ${num(needsA)} A, only ` +
          `${num(c.matchCurrentA)} A are permitted: a gentler slope or more current`,
      );
    }
  }
  if (!(c.matchCurrentA <= k.routineBreakA)) {
    fault(
      'converter.matchCurrentA',
      `${num(c.matchCurrentA)} A must not exceed contactors.routineBreakA, ${num(k.routineBreakA)} A: a match that ` +
        'fails must be openable',
    );
  }
  if (!(k.matchV <= MOST_MATCH_V)) {
    fault(
      'contactors.matchV',
      `${num(k.matchV)} V, at most ${MOST_MATCH_V} V (IEC 61851-23 analogy, from memory)`,
    );
  }
  if (!(k.closedDropV < k.probeV)) {
    fault(
      'contactors.probeV',
      `${num(k.probeV)} V must be above closedDropV, ${num(k.closedDropV)} V: an open pole would pass for a closed one`,
    );
  }
  const loopOhm =
    cableLoopOhm(rig.connection.cable, 20) +
    2 * rig.connection.contact.resistanceOhm +
    raftStepOhm(rig) / Math.max(1, batteryRafts(rig));
  const rushA = k.matchV / loopOhm;
  if (!(rushA <= k.breakingCapacityA)) {
    fault(
      'contactors.matchV',
      `${num(k.matchV)} V over a loop of ${num(loopOhm)} ohm lets ${num(rushA)} A rush in at closing, above ` +
        `breakingCapacityA ${num(k.breakingCapacityA)} A: match closer`,
    );
  }
};

const breaking: Rule = ({ contactors: k, connection, converter }, fault, warn) => {
  if (!(k.routineBreakA <= k.breakingCapacityA)) {
    fault(
      'contactors.routineBreakA',
      `${num(k.routineBreakA)} A must not exceed breakingCapacityA, ${num(k.breakingCapacityA)} A`,
    );
  }
  if (!(k.breakingCapacityA >= connection.ratedCurrentA)) {
    fault(
      'contactors.breakingCapacityA',
      `${num(k.breakingCapacityA)} A is below connection.ratedCurrentA, ${num(connection.ratedCurrentA)} A: the ` +
        'contactors could not open what they carry',
    );
  } else if (k.breakingCapacityA < converter.maxCurrentA) {
    warn(
      'contactors.breakingCapacityA',
      `below converter.maxCurrentA, ${num(converter.maxCurrentA)} A: a runaway converter is left to the supply breaker`,
    );
  }
};

const ramps: Rule = ({ ramp, connection, plausibility, converter, supply, battery }, fault) => {
  if (!(ramp.holdPointShare > 0 && ramp.holdPointShare <= MOST_HOLD_SHARE)) {
    fault(
      'ramp.holdPointShare',
      `${num(ramp.holdPointShare)}, expected above 0 and at most ${MOST_HOLD_SHARE}`,
    );
  }
  const holdA = ramp.holdPointShare * connection.ratedCurrentA;
  const floorA = Math.max(plausibility.currentFloorA, converter.trackingFloorA);
  if (!(holdA > floorA)) {
    fault(
      'ramp.holdPointShare',
      `the hold point, ${num(holdA)} A, cannot be told from the measuring tolerance of ${num(floorA)} A`,
    );
  }
  if (!(ramp.endCurrentA < connection.ratedCurrentA)) {
    fault('ramp.endCurrentA', `${num(ramp.endCurrentA)} A must be below connection.ratedCurrentA`);
  }
  if (!(ramp.downAPerS >= ramp.upAPerS)) {
    fault('ramp.downAPerS', `${num(ramp.downAPerS)} A/s is gentler than upAPerS, ${num(ramp.upAPerS)} A/s`);
  }
  if (!(ramp.emergencyDownAPerS >= ramp.downAPerS)) {
    fault(
      'ramp.emergencyDownAPerS',
      `${num(ramp.emergencyDownAPerS)} A/s is gentler than downAPerS, ${num(ramp.downAPerS)} A/s`,
    );
  }
  const highV = battery.raft.seriesCells * battery.raft.ceilingCellV;
  const kwPerS = rampKwPerS(ramp.upAPerS, highV);
  if (!(kwPerS <= supply.slopeKwPerS)) {
    fault(
      'ramp.upAPerS',
      `${num(ramp.upAPerS)} A/s at ${num(highV)} V is ${num(kwPerS)} kW/s, supply.slopeKwPerS permits ` +
        `${num(supply.slopeKwPerS)} kW/s: at most ${num((1000 * supply.slopeKwPerS) / highV)} A/s`,
    );
  }
};

/** Load slope a current slope puts on the supply, kW/s. */
export const rampKwPerS = (upAPerS: number, volts: number): number => (upAPerS * volts) / 1000;

const precharging: Rule = (rig, fault) => {
  const { precharge, converter, contactors } = rig;
  if (converter.matchesVoltage && precharge) {
    fault('precharge', 'the converter matches by itself (converter.matchesVoltage): remove `precharge`');
  }
  if (!converter.matchesVoltage && !precharge) {
    fault('precharge', 'the converter cannot match by itself (converter.matchesVoltage): add `precharge`');
  }
  if (!precharge) return;
  const tauS = precharge.resistorOhm * converter.capacitanceF;
  const fullV = packV(rig, rig.battery.raft.ceilingCellV);
  const takesS = tauS * Math.log(fullV / contactors.matchV);
  if (takesS <= precharge.maxS) return;
  fault(
    'precharge.maxS',
    `from 0 to within ${num(contactors.matchV)} V of ${num(fullV)} V takes ${num(takesS)} s with ` +
      `${num(precharge.resistorOhm)} ohm and ${num(converter.capacitanceF)} F, only ${num(precharge.maxS)} s are given`,
  );
};

const outputBleeds: Rule = ({ bleeder: b, converter: c }, fault) => {
  const tauS = b.outputOhm * c.capacitanceF;
  const deadS = tauS * Math.log(c.maxVoltageV / b.safeV);
  if (!(deadS <= b.deadWithinS)) {
    const mostOhm = b.deadWithinS / (c.capacitanceF * Math.log(c.maxVoltageV / b.safeV));
    fault(
      'bleeder.outputOhm',
      `${num(b.outputOhm)} ohm takes ${num(deadS)} s from ${num(c.maxVoltageV)} V to ${num(b.safeV)} V, ` +
        `deadWithinS is ${num(b.deadWithinS)} s: at most ${num(mostOhm)} ohm`,
    );
  }
  const heldS = tauS * Math.log(c.maxVoltageV / MAKE_SAFE.bleederOffV) + MAKE_SAFE.bleederOffAfterMs / 1000;
  if (!(heldS <= b.maxOnS)) {
    fault(
      'bleeder.maxOnS',
      `${num(b.maxOnS)} s, but bleeding to ${MAKE_SAFE.bleederOffV} V and staying on for ` +
        `${MAKE_SAFE.bleederOffAfterMs} ms takes ${num(heldS)} s`,
    );
  }
  const energyJ = 0.5 * c.capacitanceF * c.maxVoltageV ** 2;
  if (!(energyJ <= b.maxEnergyJ)) {
    fault(
      'bleeder.maxEnergyJ',
      `the output capacitor holds ${num(energyJ)} J at ${num(c.maxVoltageV)} V, the bleeder may take ${num(b.maxEnergyJ)} J`,
    );
  }
};

const plugBleeds: Rule = ({ bleeder: b, connection, converter }, fault) => {
  const farads = connection.cable.capacitanceF;
  const deadS = b.plugOhm * farads * Math.log(converter.maxVoltageV / b.safeV);
  const withinS = Math.min(PINS_DEAD_S, b.deadWithinS);
  if (!(deadS <= withinS)) {
    fault(
      'bleeder.plugOhm',
      `${num(b.plugOhm)} ohm takes ${num(deadS)} s to bring the plug from ${num(converter.maxVoltageV)} V to ` +
        `${num(b.safeV)} V, exposed pins must be dead in ${num(withinS)} s (IEC 60204-1 6.2.4)`,
    );
  }
  const energyJ = 0.5 * farads * converter.maxVoltageV ** 2;
  if (!(energyJ <= b.maxEnergyJ)) {
    fault(
      'bleeder.maxEnergyJ',
      `cable and plug hold ${num(energyJ)} J, the bleeder may take ${num(b.maxEnergyJ)} J`,
    );
  }
};

/** Pole P is proven open by the output following the bleeder while N is still closed. */
const openPoleShows: Rule = (rig, fault) => {
  const { bleeder, converter, plausibility } = rig;
  const windowS = (MAKE_SAFE.openNAfterPMs - MAKE_SAFE.bleedOutputAfterPMs) / 1000;
  const lowV = packV(rig, rig.battery.raft.minCellV);
  const fallV = lowV * (1 - Math.exp(-windowS / (bleeder.outputOhm * converter.capacitanceF)));
  if (fallV >= 4 * plausibility.voltageV) return;
  fault(
    'bleeder.outputOhm',
    `between P and N (${num(windowS)} s) the output falls by only ${num(fallV)} V, at least four times ` +
      `plausibility.voltageV (${num(plausibility.voltageV)} V) are needed to prove P open: less resistance`,
  );
};

export const CHARGER_RULES: readonly Rule[] = [
  converterRange,
  loadDump,
  matching,
  breaking,
  ramps,
  precharging,
  outputBleeds,
  plugBleeds,
  openPoleShows,
];
