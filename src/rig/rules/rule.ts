/** What a rule is, and how its figures are written. */
import type { Rig } from '../schema.js';

/** Says one fault or warning about the key at `path`. */
export type Say = (path: string, message: string) => void;
export type Rule = (rig: Rig, fault: Say, warn: Say) => void;

/** A figure for people: at most four digits that count. */
export function num(value: number): string {
  if (!Number.isFinite(value)) return String(value);
  return String(Number(value.toPrecision(4)));
}
