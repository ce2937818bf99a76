/** What one session tells of one figure of its rig, or why it does not. */
import type { Found } from './combine.js';

export type Told = Found | { readonly why: string };
export const tells = (told: Told): told is Found => 'value' in told;

export const TOO_SHORT = 'too short';
export const TOO_LITTLE_CURRENT = 'too little current';
export const missing = (what: string): string => `sensor missing: ${what}`;

/** A figure that is uncertain by more than this share of itself is none, one standard deviation. */
const MOST_UNCERTAIN = 0.15;

/** @param why what it lacks when it is too uncertain */
export function sureEnough(value: number, error: number, why: string, most = MOST_UNCERTAIN): Told {
  const sure = Number.isFinite(value) && error <= most * Math.abs(value);
  return sure ? { value, error } : { why };
}

/** A sensor counts as missing when so many of its samples cannot be read. */
export const MOST_UNREAD = 0.1;
