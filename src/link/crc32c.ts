/**
 * CRC-32C (Castagnoli), the check of every frame: polynomial 1EDC6F41 reflected, start and final inversion
 * FFFFFFFF, as published for iSCSI (RFC 3720). Check value over "123456789": e3069283.
 */
const TABLE = new Int32Array(256);
for (let byte = 0; byte < 256; byte++) {
  let crc = byte;
  for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0x82f63b78 : crc >>> 1;
  TABLE[byte] = crc;
}

/** Over the char codes of `text` up to `end` (each must be below 256), as an unsigned 32-bit integer. */
export function crc32c(text: string, end = text.length): number {
  let crc = -1;
  for (let i = 0; i < end; i++) crc = TABLE[(crc ^ text.charCodeAt(i)) & 0xff]! ^ (crc >>> 8);
  return (crc ^ -1) >>> 0;
}

/** The same over the first `end` bytes. */
export function crc32cOf(bytes: Uint8Array, end = bytes.length): number {
  let crc = -1;
  for (let i = 0; i < end; i++) crc = TABLE[(crc ^ bytes[i]!) & 0xff]! ^ (crc >>> 8);
  return (crc ^ -1) >>> 0;
}

/** Eight lower-case hex digits, as written at the end of a frame. */
export const crcText = (crc: number): string => crc.toString(16).padStart(8, '0');
