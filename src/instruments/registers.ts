/** Figures in registers of 16 bits: signed and unsigned, two registers in either order, IEEE 754 single. Pure. */

export type RegisterType = 'u16' | 'i16' | 'u32' | 'i32' | 'f32';
export type WordOrder = 'high-first' | 'low-first';

const view = new DataView(new ArrayBuffer(4));

export const registersOf = (type: RegisterType): number => (type.endsWith('16') ? 1 : 2);

/** The figure that begins at a register; NaN where there are too few registers. */
export function fromRegisters(
  registers: readonly number[],
  at: number,
  type: RegisterType,
  order: WordOrder,
): number {
  const [first, second] = [registers[at], registers[at + 1]];
  if (first === undefined || (registersOf(type) === 2 && second === undefined)) return Number.NaN;
  if (type === 'u16') return first;
  if (type === 'i16') return first >= 0x8000 ? first - 0x10000 : first;
  const [high, low] = order === 'high-first' ? [first, second as number] : [second as number, first];
  view.setUint16(0, high);
  view.setUint16(2, low);
  if (type === 'u32') return view.getUint32(0);
  return type === 'i32' ? view.getInt32(0) : view.getFloat32(0);
}

/** Null when the figure does not fit: what does not fit must not be written as something else. */
export function toRegisters(value: number, type: RegisterType, order: WordOrder): number[] | null {
  if (type === 'f32') view.setFloat32(0, value);
  else {
    const count = Math.round(value);
    const bits = type.endsWith('16') ? 16 : 32;
    const least = type.startsWith('i') ? -(2 ** (bits - 1)) : 0;
    const most = type.startsWith('i') ? 2 ** (bits - 1) - 1 : 2 ** bits - 1;
    if (!(count >= least && count <= most)) return null;
    if (bits === 16) return [count & 0xffff];
    view.setUint32(0, count >>> 0);
  }
  if (!Number.isFinite(value)) return null;
  const [high, low] = [view.getUint16(0), view.getUint16(2)];
  return order === 'high-first' ? [high, low] : [low, high];
}

/** Two characters a register, the first in the high byte; NUL and spaces at the end are left out. */
export function textOf(registers: readonly number[]): string {
  const bytes = registers.flatMap((r) => [r >> 8, r & 0xff]);
  const end = bytes.indexOf(0);
  return String.fromCharCode(...(end < 0 ? bytes : bytes.slice(0, end))).trimEnd();
}
