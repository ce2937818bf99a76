/**
 * How long one round with an instrument takes at the worst: a new set-point with the error queue after it, and
 * every reading. The rig states a period (`pollMs`); the loader refuses one the round does not fit in.
 */
import { transitMs } from './frame-size.js';
import type { InstrumentMap, ModbusMap, ScpiMap } from './instrument-schema.js';

/** `+1.234567E+02` and its separator, with room. */
const NUMBER_BYTES = 16;
/** `-222,"Data out of range"` with the longest of the standard's texts. */
const ERROR_BYTES = 64;
/** A figure in place of `{A}`. */
const FIGURE_BYTES = 8;
/** What joins two messages: `;:` */
const JOIN_BYTES = 2;

interface Message {
  readonly text: string;
  readonly outBytes: number;
  readonly backBytes: number;
}

export interface Round {
  readonly messages: number;
  readonly bytes: number;
  readonly ms: number;
}

export function roundOf(map: InstrumentMap, baud: number): Round {
  const messages = map.speaks === 'scpi' ? scpiMessages(map) : modbusMessages(map);
  const { latencyMs, gapMs } = map.timing;
  const bytes = messages.reduce((sum, m) => sum + m.outBytes + m.backBytes, 0);
  const pauseMs = map.speaks === 'modbus' ? gapMs + 2 * silentMs(baud) : gapMs;
  return {
    messages: messages.length,
    bytes,
    ms: transitMs(bytes, baud) + messages.length * (latencyMs + pauseMs),
  };
}

function scpiMessages(map: ScpiMap): Message[] {
  const list: Message[] = [];
  const { actions } = map;
  if (actions) {
    const told = actions.setVoltage.length + actions.setCurrent.length + 2 * (FIGURE_BYTES + 1);
    list.push({ text: 'set', outBytes: told + map.errors.ask.length + 1, backBytes: ERROR_BYTES });
  }
  const reads = map.reads.map((r) => ({
    text: r.ask,
    outBytes: r.ask.length + 1,
    backBytes: r.fields.length * NUMBER_BYTES + 1,
  }));
  if (!map.join) return [...list, ...reads];
  const outBytes = reads.reduce((sum, r) => sum + r.outBytes + JOIN_BYTES, 0);
  return [...list, { text: 'reads', outBytes, backBytes: reads.reduce((sum, r) => sum + r.backBytes, 0) }];
}

/** Address, function, CRC and what is between. */
function modbusMessages(map: ModbusMap): Message[] {
  const list: Message[] = [];
  if (map.actions) {
    for (const one of [map.actions.setVoltage, map.actions.setCurrent]) {
      const registers = one.type.endsWith('16') ? 1 : 2;
      const outBytes = registers === 1 ? 8 : 9 + 2 * registers;
      list.push({ text: 'set', outBytes, backBytes: 8 });
    }
  }
  for (const block of map.reads) list.push({ text: 'read', outBytes: 8, backBytes: 5 + 2 * block.registers });
  return list;
}

/** Silence that ends a frame of Modbus RTU: 3.5 characters, and 1.75 ms above 19200 baud. */
export const silentMs = (baud: number): number => (baud > 19_200 ? 1.75 : transitMs(3.5, baud));
