/** Isolation limits, stored charge, and whether a proof can be had in the time given. */
import { packV } from '../volts.js';
import { num, type Rule } from './rule.js';

/** UN R100 5.1.3 and ISO 6469-4:2015 5.2.3, published: DC bus, and with the AC side conductively joined. */
const LEAST_OHM_PER_VOLT = { dc: 100, joinedToAc: 500 } as const;
/** A reading counts as settled after this many time constants: 0.1 % left. */
const SETTLED_TAUS = 7;

const limitsOrdered: Rule = ({ isolation: i, battery }, fault) => {
  const least = i.joinedToAcSide ? LEAST_OHM_PER_VOLT.joinedToAc : LEAST_OHM_PER_VOLT.dc;
  if (!(i.minOhmPerVolt >= least)) {
    const when = i.joinedToAcSide ? 'with joinedToAcSide' : 'on a DC bus';
    fault(
      'isolation.minOhmPerVolt',
      `${num(i.minOhmPerVolt)} ohm/V, at least ${least} ohm/V ${when} (UN R100 5.1.3, ISO 6469-4)`,
    );
  }
  if (!(i.minOhmPerVolt <= i.warnOhmPerVolt)) {
    fault(
      'isolation.warnOhmPerVolt',
      `${num(i.warnOhmPerVolt)} ohm/V must not be below minOhmPerVolt, ${num(i.minOhmPerVolt)} ohm/V`,
    );
  }
  if (!(battery.raft.minIsolationOhmPerVolt >= i.minOhmPerVolt)) {
    fault(
      'battery.raft.minIsolationOhmPerVolt',
      `${num(battery.raft.minIsolationOhmPerVolt)} ohm/V would let a raft join that the network then refuses ` +
        `(isolation.minOhmPerVolt ${num(i.minOhmPerVolt)} ohm/V)`,
    );
  }
};

const workingVoltage: Rule = (rig, fault) => {
  const highV = packV(rig, rig.battery.raft.maxCellV);
  if (rig.isolation.workingVoltageV >= highV) return;
  fault(
    'isolation.workingVoltageV',
    `${num(rig.isolation.workingVoltageV)} V is below the highest pack voltage, ${rig.battery.raft.seriesCells} ` +
      `cells at maxCellV = ${num(highV)} V: the ohms per volt would come out too kind`,
  );
};

const storedCharge: Rule = ({ isolation: i }, fault) => {
  const { chargerF, cableF, trainF } = i.network;
  // Both poles in parallel to chassis: what a person who bridges pole and chassis can meet.
  const farads = 2 * (chargerF + cableF + trainF);
  const energyJ = 0.5 * farads * i.workingVoltageV ** 2;
  if (energyJ <= i.maxStoredJ) return;
  fault(
    'isolation.maxStoredJ',
    `charger, cable and train hold ${num(energyJ)} J in ${num(farads * 1e6)} µF to chassis at ` +
      `${num(i.workingVoltageV)} V, at most ${num(i.maxStoredJ)} J: at most ` +
      `${num((2e6 * i.maxStoredJ) / i.workingVoltageV ** 2)} µF for both poles together`,
  );
};

const newNetworkPasses: Rule = ({ isolation: i }, fault) => {
  const { chargerOhm, cableOhm, trainOhm } = i.network;
  const poleOhm = 1 / (1 / chargerOhm + 1 / cableOhm + 1 / trainOhm);
  const figureOhm = i.figure === 'parallel' ? poleOhm / 2 : poleOhm;
  const perVolt = figureOhm / i.workingVoltageV;
  if (perVolt >= i.warnOhmPerVolt) return;
  fault(
    'isolation.network',
    `a new network shows ${num(perVolt)} ohm/V (${i.figure}), below warnOhmPerVolt ${num(i.warnOhmPerVolt)} ohm/V: ` +
      'it would be warned of on its first day',
  );
};

const settlesInTime: Rule = ({ isolation: i, link }, fault) => {
  const { chargerF, cableF, trainF } = i.network;
  const reportsS = (3 * link.periodMs) / 1000;
  // Live: known resistor on one pole, then on the other; the capacitance of both poles follows through it.
  const liveS = 2 * (SETTLED_TAUS * i.knownOhm * 2 * (chargerF + cableF + trainF) + reportsS);
  if (!(liveS <= i.checkMaxS)) {
    fault(
      'isolation.checkMaxS',
      `two settled readings through knownOhm (${num(i.knownOhm)} ohm) take ${num(liveS)} s, only ` +
        `${num(i.checkMaxS)} s are given: a smaller resistor, less capacitance or more time`,
    );
  }
  // Dead: each pole through its own resistor.
  const deadS = SETTLED_TAUS * i.injectionOhm * Math.max(chargerF, cableF) + reportsS;
  if (!(deadS <= i.checkMaxS)) {
    fault(
      'isolation.checkMaxS',
      `injecting through injectionOhm (${num(i.injectionOhm)} ohm) settles in ${num(deadS)} s, only ` +
        `${num(i.checkMaxS)} s are given`,
    );
  }
};

const knownResistorFits: Rule = ({ isolation: i }, _fault, warn) => {
  const requiredOhm = i.minOhmPerVolt * i.workingVoltageV;
  const ratio = i.knownOhm / requiredOhm;
  if (ratio >= 0.5 && ratio <= 2) return;
  warn(
    'isolation.knownOhm',
    `${num(i.knownOhm)} ohm; the method reads best with a resistor of about the required ${num(requiredOhm)} ohm`,
  );
};

export const ISOLATION_RULES: readonly Rule[] = [
  limitsOrdered,
  workingVoltage,
  storedCharge,
  newNetworkPasses,
  settlesInTime,
  knownResistorFits,
];
