/**
 * Holds a simulated run against what its scenario declares, against the energy of the bench, and lists every
 * invariant it broke (src/audit). Pure.
 */
import type { Scenario } from '../../simulators/scenario.js';
import type { TruthSummary } from '../../simulators/truth.js';
import { type Breach, tellBreach } from '../audit/judge.js';
import type { Outcome } from '../supervisor/outcome.js';

/** What the simulator calls energy and what the session reports may differ by this. */
const ENERGY_SHARE = 0.01;
/** Below this the share says nothing: a millisecond of ramp is more. */
const ENERGY_FLOOR_KWH = 0.02;

export interface Judged {
  readonly outcome: Outcome;
  readonly exit: number;
  readonly truth: TruthSummary;
  readonly breaches: readonly Breach[];
}

/** Everything that is not as declared, in words; empty when all is well. */
export function deviations(expect: Scenario['expect'], run: Judged): string[] {
  return [...fromDeclaration(expect, run), ...run.breaches.map(tellBreach), ...fromEnergy(run)];
}

function fromDeclaration(expect: Scenario['expect'], { outcome, exit }: Judged): string[] {
  const wrong: string[] = [];
  const hold = (what: string, expected: unknown, got: unknown): void => {
    if (expected !== undefined && expected !== got) wrong.push(`${what}: expected ${expected}, got ${got}`);
  };
  hold('outcome', expect.outcome, outcome.outcome);
  hold('exit', expect.exit, exit);
  hold('end reason', expect.endReason, outcome.endReason);
  if (expect.outcome === 'tripped') {
    hold('code', expect.code, outcome.trip?.code);
    hold('phase', expect.phase, outcome.trip?.phase);
    hold('effect', expect.effect, outcome.trip?.effect);
  } else if (expect.outcome === 'refused') hold('code', expect.code, outcome.refusals[0]?.code);
  else if (expect.code !== undefined && !outcome.findings.some((f) => f.code === expect.code))
    wrong.push(`finding ${expect.code} did not appear`);
  return wrong;
}

/** What the session reports must be what the bench took. */
function fromEnergy({ outcome, truth }: Judged): string[] {
  const off = Math.abs(outcome.energyToBatteryKwh - truth.energyAtRaftTerminalsKwh);
  const allowed = Math.max(ENERGY_FLOOR_KWH, ENERGY_SHARE * truth.energyAtRaftTerminalsKwh);
  if (outcome.outcome !== 'released' || off <= allowed) return [];
  return [
    `TRUTH: reported ${outcome.energyToBatteryKwh.toFixed(3)} kWh, was ${truth.energyAtRaftTerminalsKwh.toFixed(3)} kWh`,
  ];
}
