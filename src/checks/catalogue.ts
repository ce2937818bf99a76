/**
 * The one catalogue of codes: every finding, refusal and trip of a session has its entry here, and command
 * line, journal, documents and page all read it. A retired code is listed in RETIRED and never used again.
 */
import type { CodeEntry } from './code-entry.js';
import { CHARGE_CODES } from './codes-charge.js';
import { CIRCUIT_CODES } from './codes-circuit.js';

export type { CodeEntry, Effect } from './code-entry.js';

export const CATALOGUE = { ...CIRCUIT_CODES, ...CHARGE_CODES } as const satisfies Record<string, CodeEntry>;

export type Code = keyof typeof CATALOGUE;
export const CODES = Object.keys(CATALOGUE) as readonly Code[];

/** Codes once used and never to be used again. */
export const RETIRED: readonly string[] = [];
