/**
 * A rig with one thing changed, to see what would make a stop long enough. What is changed together is what one would
 * build together; limits of the cells are never touched.
 */
import type { Rig } from '../rig/schema.js';
import type { StopStart } from './train-model.js';

export interface Changed {
  readonly rig: Rig;
  readonly start: StopStart;
}

export interface Change {
  readonly name: string;
  /** Of the value that is looked for. */
  readonly unit: string;
  readonly text: string;
  /** Where it is now, and how far it is looked for. */
  readonly now: (rig: Rig, start: StopStart) => number;
  readonly most: (rig: Rig, start: StopStart) => number;
  /** Only whole numbers can be built. */
  readonly whole: boolean;
  readonly make: (rig: Rig, start: StopStart, value: number) => Changed;
}

/** Heat goes with the square of the current: what carries n times as much has n times the copper. */
function charger(rig: Rig, factor: number): Rig {
  const { converter, supply } = rig;
  return {
    ...rig,
    converter: {
      ...converter,
      maxCurrentA: converter.maxCurrentA * factor,
      maxPowerW: converter.maxPowerW * factor,
      noLoadLossW: converter.noLoadLossW * factor,
    },
    supply: {
      ...supply,
      maxPowerW: supply.maxPowerW * factor,
      slopeKwPerS: supply.slopeKwPerS * factor,
    },
  };
}

/** So many plugs, or pairs of shoes, side by side, each with its own cable. */
function contacts(rig: Rig, count: number): Rig {
  const { connection } = rig;
  const { cable, contact } = connection;
  return {
    ...rig,
    connection: {
      ...connection,
      ratedCurrentA: connection.ratedCurrentA * count,
      cable: {
        ...cable,
        coresPerPole: (cable.coresPerPole * count) as typeof cable.coresPerPole,
        thermalResistanceKPerW: cable.thermalResistanceKPerW / count,
      },
      contact: {
        ...contact,
        resistanceOhm: contact.resistanceOhm / count,
        // Of all of them together: each has its own way to the air.
        thermalResistanceKPerW: contact.thermalResistanceKPerW / count,
      },
    },
  };
}

function raft(rig: Rig, factor: number): Rig {
  const { battery } = rig;
  const { raft: one } = battery;
  return {
    ...rig,
    battery: {
      ...battery,
      raft: {
        ...one,
        parallelCells: Math.ceil(one.parallelCells * factor),
        maxCurrentA: (one.maxCurrentA * Math.ceil(one.parallelCells * factor)) / one.parallelCells,
        barsOhm: (one.barsOhm * one.parallelCells) / Math.ceil(one.parallelCells * factor),
      },
    },
  };
}

export const CHANGES: readonly Change[] = [
  {
    name: 'charger-current',
    unit: 'A',
    text: 'a charger and supply for this current, with as many contacts and cables as carry it',
    now: (rig) => Math.min(rig.converter.maxCurrentA, rig.connection.ratedCurrentA),
    most: (rig) => 10 * Math.min(rig.converter.maxCurrentA, rig.connection.ratedCurrentA),
    whole: false,
    make: (rig, start, value) => {
      const factor = value / Math.min(rig.converter.maxCurrentA, rig.connection.ratedCurrentA);
      const many = Math.ceil(Math.max(1, value / rig.connection.ratedCurrentA) - 1e-9);
      const wide = contacts(charger(rig, factor), many);
      const connection = {
        ...wide.connection,
        ratedCurrentA: Math.min(wide.connection.ratedCurrentA, value),
      };
      return { rig: { ...wide, connection }, start };
    },
  },
  {
    name: 'contacts',
    unit: '',
    text: 'so many plugs or pairs of shoes side by side, charger and supply as they are',
    now: () => 1,
    most: () => 8,
    whole: true,
    make: (rig, start, value) => ({ rig: contacts(rig, value), start }),
  },
  {
    name: 'raft-capacity',
    unit: 'times',
    text: 'rafts with so many times the cells in parallel, which carry so many times the current',
    now: () => 1,
    most: () => 4,
    whole: false,
    make: (rig, start, value) => ({ rig: raft(rig, value), start }),
  },
  {
    name: 'cell-temperature',
    unit: 'degC',
    text: 'cells that arrive at this temperature',
    now: (_, start) => start.cellC,
    // Cooler where heat binds, warmer where cold does: looked for towards the middle of what a cell likes.
    most: () => 25,
    whole: false,
    make: (rig, start, value) => ({ rig, start: { ...start, cellC: value } }),
  },
];
