/** Cells, rafts, and the supply behind it all. */
import { batteryRafts, openCircuitV, packV } from '../volts.js';
import { num, type Rule } from './rule.js';

/** EN 50163, 750 V DC, permanent range, published: what a train of this system fits. */
const SYSTEM_V = { low: 500, high: 900 } as const;

const openCircuitTable: Rule = ({ battery }, fault) => {
  const { ocv } = battery.raft.cell;
  const at = 'battery.raft.cell.ocv';
  const first = ocv[0]!.soc;
  const last = ocv.at(-1)!.soc;
  if (!(first === 0 && last === 1)) {
    fault(at, `the table runs from ${num(first)} to ${num(last)}, expected from 0 to 1 state of charge`);
  }
  for (let i = 1; i < ocv.length; i++) {
    const below = ocv[i - 1]!;
    const here = ocv[i]!;
    if (!(here.soc > below.soc))
      fault(`${at}.${i}.soc`, `${num(here.soc)} must be above ${num(below.soc)} before it`);
    if (!(here.v >= below.v))
      fault(`${at}.${i}.v`, `${here.v} V must not be below the ${below.v} V before it`);
  }
};

/** Tables that a cell may have beside its open-circuit volts. */
const cellTables: Rule = ({ battery }, fault) => {
  const { overSoc, overTemperature, hysteresis } = battery.raft.cell;
  const rises = (key: string, name: string, points: readonly number[] | undefined): void => {
    points?.forEach((x, i) => {
      if (i === 0 || x > points[i - 1]!) return;
      fault(
        `battery.raft.cell.${key}.${i}.${name}`,
        `${num(x)} must be above ${num(points[i - 1]!)} before it`,
      );
    });
  };
  const socs = (points: readonly { readonly soc: number }[] | undefined) => points?.map((p) => p.soc);
  rises('overSoc', 'soc', socs(overSoc));
  rises('hysteresis.over', 'soc', socs(hysteresis?.over));
  rises(
    'overTemperature',
    'cellC',
    overTemperature?.map((p) => p.cellC),
  );
};

const cellWindow: Rule = ({ battery: { raft, floorSoc, ceilingSoc } }, fault) => {
  if (!(floorSoc < ceilingSoc)) {
    fault('battery.floorSoc', `${num(floorSoc)} must be below ceilingSoc, ${num(ceilingSoc)}`);
  }
  if (!(raft.minCellV < raft.ceilingCellV)) {
    fault(
      'battery.raft.minCellV',
      `${num(raft.minCellV)} V must be below ceilingCellV, ${num(raft.ceilingCellV)} V`,
    );
  }
  if (!(raft.ceilingCellV < raft.maxCellV)) {
    fault(
      'battery.raft.ceilingCellV',
      `${num(raft.ceilingCellV)} V must be below maxCellV, ${num(raft.maxCellV)} V: the first tapers, the second trips`,
    );
  }
  const atCeilingV = openCircuitV(raft.cell, ceilingSoc);
  if (atCeilingV > raft.ceilingCellV) {
    fault(
      'battery.raft.ceilingCellV',
      `${num(raft.ceilingCellV)} V is below the open-circuit ${num(atCeilingV)} V at ceilingSoc ` +
        `${num(ceilingSoc)}: that charge can never be reached`,
    );
  }
  const atFloorV = openCircuitV(raft.cell, floorSoc);
  if (atFloorV < raft.minCellV) {
    fault(
      'battery.raft.minCellV',
      `${num(raft.minCellV)} V is above the open-circuit ${num(atFloorV)} V at floorSoc ${num(floorSoc)}: a train ` +
        'within its window would be refused',
    );
  }
  if (!(raft.maxCellSpreadV < raft.maxCellV - raft.minCellV)) {
    fault(
      'battery.raft.maxCellSpreadV',
      `${num(raft.maxCellSpreadV)} V is wider than the cell's whole range`,
    );
  }
};

const cellTemperatures: Rule = ({ battery: { raft } }, fault, warn) => {
  if (!(raft.minChargeC < raft.derateFromC)) {
    fault(
      'battery.raft.minChargeC',
      `${num(raft.minChargeC)} °C must be below derateFromC, ${num(raft.derateFromC)} °C`,
    );
  }
  if (!(raft.derateFromC < raft.maxChargeC)) {
    fault(
      'battery.raft.derateFromC',
      `${num(raft.derateFromC)} °C must be below maxChargeC, ${num(raft.maxChargeC)} °C`,
    );
  }
  if (raft.minChargeC < 0) {
    warn(
      'battery.raft.minChargeC',
      `${num(raft.minChargeC)} °C: cells with a graphite anode take no charge below 0 °C (published, weak)`,
    );
  }
};

const trainFits: Rule = (rig, fault) => {
  const { raft, floorSoc } = rig.battery;
  const highV = packV(rig, raft.maxCellV);
  if (!(highV <= SYSTEM_V.high)) {
    fault(
      'battery.raft.seriesCells',
      `${raft.seriesCells} cells at maxCellV make ${num(highV)} V, a 750 V system permits ${SYSTEM_V.high} V ` +
        '(EN 50163): fewer cells in series',
    );
  }
  const lowV = packV(rig, openCircuitV(raft.cell, floorSoc));
  if (lowV < SYSTEM_V.low) {
    fault(
      'battery.raft.seriesCells',
      `${raft.seriesCells} cells at floorSoc ${num(floorSoc)} make ${num(lowV)} V, a 750 V system needs ` +
        `${SYSTEM_V.low} V (EN 50163): more cells in series`,
    );
  }
};

const rafts: Rule = (rig, fault, warn) => {
  const { raft } = rig.battery;
  const names = rig.battery.rafts.map((r) => r.name);
  names.forEach((name, i) => {
    if (names.indexOf(name) !== i)
      fault(`battery.rafts.${i}.name`, `${name} is taken: each raft has its own name`);
  });
  const count = batteryRafts(rig);
  if (count === 0) fault('battery.rafts', 'there is no battery raft to charge');
  if (!(raft.joinCurrentA <= raft.maxCurrentA)) {
    fault(
      'battery.raft.joinCurrentA',
      `${num(raft.joinCurrentA)} A must not exceed maxCurrentA, ${num(raft.maxCurrentA)} A`,
    );
  }
  const togetherA = count * raft.maxCurrentA;
  if (togetherA < rig.connection.ratedCurrentA) {
    warn(
      'battery.raft.maxCurrentA',
      `${count} rafts take ${num(togetherA)} A together: they bind before connection.ratedCurrentA, ` +
        `${num(rig.connection.ratedCurrentA)} A`,
    );
  }
};

const KIND_KEYS = {
  'engine-set': ['nominalFrequencyHz', 'minFrequencyHz', 'droopPercent', 'inertiaS', 'governorS'],
  store: ['capacityKwh', 'internalOhm'],
  feed: [],
} as const;

/** Keys a supply of a kind may have. */
const KIND_EXTRAS = {
  'engine-set': ['underSpeedTripHz', 'fuel'],
  store: ['gridFeedW', 'renewable'],
  feed: [],
} as const;

const supplyKeys: Rule = ({ supply }, fault, warn) => {
  const needed: readonly string[] = KIND_KEYS[supply.kind];
  const given = supply as Readonly<Record<string, unknown>>;
  for (const key of needed) {
    if (given[key] === undefined) fault(`supply.${key}`, `missing, a supply of kind ${supply.kind} needs it`);
  }
  const permitted: readonly string[] = [...needed, ...KIND_EXTRAS[supply.kind]];
  for (const key of [...Object.values(KIND_KEYS), ...Object.values(KIND_EXTRAS)].flat()) {
    if (given[key] !== undefined && !permitted.includes(key)) {
      warn(`supply.${key}`, `not used by a supply of kind ${supply.kind}`);
    }
  }
};

const supplyFigures: Rule = ({ supply }, fault) => {
  if (!(supply.minVoltageV < supply.nominalVoltageV)) {
    fault(
      'supply.minVoltageV',
      `${num(supply.minVoltageV)} V must be below nominalVoltageV, ${num(supply.nominalVoltageV)} V`,
    );
  }
  const { nominalFrequencyHz: nominalHz, minFrequencyHz: minHz, droopPercent } = supply;
  if (nominalHz === undefined || minHz === undefined || droopPercent === undefined) return;
  const loadedHz = nominalHz * (1 - droopPercent / 100);
  if (minHz < loadedHz) return;
  fault(
    'supply.minFrequencyHz',
    `${num(minHz)} Hz is not below the ${num(loadedHz)} Hz the set runs at under full load (droop ` +
      `${num(droopPercent)} %)`,
  );
};

const supplyPower: Rule = (rig, _fault, warn) => {
  const { converter, connection, supply } = rig;
  const currentA = Math.min(connection.ratedCurrentA, converter.maxCurrentA);
  const deliveredW = Math.min(converter.maxPowerW, currentA * packV(rig, rig.battery.raft.ceilingCellV));
  const neededW = deliveredW + converter.noLoadLossW + converter.lossVoltsPerA * currentA;
  if (neededW <= supply.maxPowerW) return;
  warn(
    'supply.maxPowerW',
    `${num(supply.maxPowerW / 1000)} kW, full current at full voltage takes ${num(neededW / 1000)} kW: the supply binds first`,
  );
};

export const BATTERY_RULES: readonly Rule[] = [
  openCircuitTable,
  cellTables,
  cellWindow,
  cellTemperatures,
  trainFits,
  rafts,
  supplyKeys,
  supplyFigures,
  supplyPower,
];
