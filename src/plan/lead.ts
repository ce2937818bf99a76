/**
 * What a session needs besides the charge: from the start order to the first current, at the hold point, and from no
 * current to the plug free. Taken from a short session of the real supervisor on the simulated bench with this very
 * rig, not from a formula: whoever changes a phase changes the plan.
 */
import { filesInMemory } from '../host/durable-file.js';
import { InputError } from '../host/input-error.js';
import { runVirtual } from '../rehearsal/virtual-run.js';
import type { LoadedRig } from '../rig/load.js';

export interface Lead {
  readonly toCurrentS: number;
  readonly atHoldPointS: number;
  readonly toFreeS: number;
}

/** Long enough to be past the hold point, short enough to heat nothing. */
const SHORT_S = 60;
const known = new WeakMap<object, Map<string, Promise<Lead>>>();

/** @throws InputError when not even a short session is released on this rig */
export function leadOf(loaded: LoadedRig, soc: number, cellC: number, ambientC: number): Promise<Lead> {
  const key = [soc.toFixed(1), cellC.toFixed(0), ambientC.toFixed(0)].join();
  const ofRig = known.get(loaded.rig) ?? new Map<string, Promise<Lead>>();
  known.set(loaded.rig, ofRig);
  const measured = ofRig.get(key) ?? measure(loaded, soc, cellC, ambientC);
  ofRig.set(key, measured);
  return measured;
}

async function measure(loaded: LoadedRig, soc: number, cellC: number, ambientC: number): Promise<Lead> {
  const { outcome } = await runVirtual({
    loaded,
    scenario: { seed: 1, start: { soc, cellC, ambientC }, inject: [], orders: [], wish: { maxS: SHORT_S } },
    stateDir: 'memory',
    latchFiles: filesInMemory(),
    journalPath: 'memory',
    sink: { append() {}, close: async () => {} },
  });
  const at = (phase: string): number => outcome.phases.find((p) => p.name === phase)?.atS ?? Number.NaN;
  const held = outcome.bindingLimits.find((b) => b.limit === 'hold point');
  const lead = {
    toCurrentS: at('ramping'),
    atHoldPointS: (held?.toS ?? 0) - (held?.fromS ?? 0),
    toFreeS: outcome.durationS - at('opening'),
  };
  if (outcome.outcome !== 'released' || Object.values(lead).some(Number.isNaN))
    throw new InputError(
      `rig ${loaded.rig.name}: no stop can be planned, because a session that starts at ${(100 * soc).toFixed(0)} % and ${cellC} °C ends with ${outcome.outcome}: ${outcome.endReason}`,
    );
  return lead;
}
