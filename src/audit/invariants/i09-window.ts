/** I9: no charge flows outside the battery's window. */
import { type Invariant, Standing } from './watch.js';

/** Less than this into a raft is no charge. */
const CHARGING_A = 5;
/** What the window may be left by before it is wrong: a sensor's error, and what flows while it is ended. */
const MARGIN = { soc: 0.01, c: 1.5 } as const;

export const I9: Invariant = {
  id: 'I9',
  onJournal:
    'no set-point above the matching current leaves for longer than the cell protection may take while a joined raft reads a cell beyond its volts or temperatures, or its management unit says stop',
  onTruth:
    'no raft is charged beyond the ceiling state of charge or the charging temperatures for longer than the cell protection and the ramp-down may take',
  watch: ({ rig, picture, broken }) => {
    const { raft } = rig.battery;
    const rampDownMs = (1000 * rig.connection.ratedCurrentA) / rig.ramp.downAPerS + 1000;
    const read = new Map<string, Standing>();
    const truly = rig.battery.rafts.map(() => new Standing(rig.tripTimes.cellMs + rampDownMs));
    const outside = (name: string): boolean => {
      const of = (field: string): number => picture.value(name, field);
      return !(
        of('cellMaxV') <= raft.maxCellV &&
        of('cellMinV') >= raft.minCellV &&
        of('cellMaxC') <= raft.maxChargeC &&
        of('cellMinC') >= raft.minChargeC &&
        of('alarm') < 2
      );
    };
    return {
      entry(e) {
        if (!e.sent.some((o) => o.name === 'setpoint')) return;
        const order = e.sent.find((o) => o.name === 'setpoint');
        const currentA = order?.args.currentA ?? Number.NaN;
        const charges = !(currentA <= rig.converter.matchCurrentA) && picture.tripMs === null;
        for (const name of picture.joined()) {
          const standing = read.get(name) ?? new Standing(rig.tripTimes.cellMs);
          read.set(name, standing);
          if (standing.take(charges && outside(name), e.tMs))
            broken('journal', `${name} is charged outside its window`);
        }
      },
      row(row) {
        for (const [i, { kind }] of rig.battery.rafts.entries()) {
          if (kind !== 'battery') continue;
          const n = `raft${i + 1}`;
          const cellC = row.get(`${n}CellC`);
          const beyond =
            !(row.get(`${n}Soc`) <= rig.battery.ceilingSoc + MARGIN.soc) ||
            !(cellC <= raft.maxChargeC + MARGIN.c && cellC >= raft.minChargeC - MARGIN.c);
          // Rafts even out between themselves without anybody charging them.
          const charges = row.get(`${n}A`) > CHARGING_A && row.get('lineA') > CHARGING_A;
          if (truly[i]!.take(beyond && charges, row.tMs))
            broken(
              'truth',
              `${n} takes ${row.get(`${n}A`).toFixed(0)} A at ${cellC.toFixed(1)} °C, state of charge ${row.get(`${n}Soc`).toFixed(3)}`,
            );
        }
      },
    };
  },
};
