/** What does not change while a page is served. */
import { CATALOGUE } from '../checks/catalogue.js';
import { PHASES } from '../rig/roles.js';
import { PHASE_TEXT } from '../supervisor/phase-text.js';
import { type About, SPEEDS } from './api.js';
import { CHAIN, codesOf } from './chain.js';
import type { Context } from './context.js';
import { acknowledgeFrom } from './orders.js';

/** Faults a bench can make; none where there is no bench. */
export type FaultsKnown = About['faults'];
export const FAULTS_NONE: FaultsKnown = [];

export function aboutOf({ stand, software, caution, exercises }: Context, faults: FaultsKnown): About {
  const { rig } = stand.loaded;
  return {
    caution: [...caution],
    software,
    rig: {
      name: rig.name,
      title: rig.title,
      connection: rig.connection.kind,
      ratedCurrentA: rig.connection.ratedCurrentA,
      ceilingSoc: rig.battery.ceilingSoc,
      rafts: rig.battery.rafts.map(({ name, kind }) => ({ name, kind })),
      matchesVoltage: rig.converter.matchesVoltage,
      safeV: rig.bleeder.safeV,
    },
    simulated: stand.bench !== null,
    acknowledgeFrom: acknowledgeFrom(rig),
    phases: PHASES.map((phase) => ({ phase, text: PHASE_TEXT[phase] })),
    chain: [...CHAIN].map(([proof, link]) => ({
      proof,
      phase: link.phase,
      text: link.text,
      codes: codesOf(link),
    })),
    codes: Object.fromEntries(
      Object.entries(CATALOGUE).map(([code, { effect, text, remedy }]) => [code, { effect, text, remedy }]),
    ),
    faults,
    exercises: exercises === null ? [] : [...exercises.all],
    speeds: stand.bench === null ? [] : [...SPEEDS],
  };
}
