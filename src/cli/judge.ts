/** Holds a simulated run against what its scenario declares and against the truth of the bench. Pure. */
import type { Scenario } from '../../simulators/scenario.js';
import type { TruthSummary } from '../../simulators/truth.js';
import type { Outcome } from '../supervisor/outcome.js';

/** Dead is below this, whatever the rig says. */
const SAFE_V = 60;
/** What the simulator calls energy and what the session reports may differ by this. */
const ENERGY_SHARE = 0.01;
/** Below this the share says nothing: a millisecond of ramp is more. */
const ENERGY_FLOOR_KWH = 0.02;

export interface Judged {
  readonly outcome: Outcome;
  readonly exit: number;
  readonly truth: TruthSummary;
}

/** Everything that is not as declared, in words; empty when all is well. */
export function deviations(expect: Scenario['expect'], run: Judged): string[] {
  return [...fromDeclaration(expect, run), ...fromTruth(run)];
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

/** What no declaration can excuse, read from the bench itself. */
function fromTruth({ outcome, exit, truth }: Judged): string[] {
  const wrong: string[] = [];
  const volts = Math.max(Math.abs(truth.plugV), truth.plugToChassisV);
  if (truth.plugFree && volts > SAFE_V && truth.seated && outcome.outcome !== 'refused')
    wrong.push(`TRUTH: plug free at ${volts.toFixed(0)} V`);
  if (exit !== 9) {
    if (truth.poles.p || truth.poles.n || truth.poles.pre) wrong.push('TRUTH: a pole is closed');
    if (Math.abs(truth.outputV) > SAFE_V) wrong.push(`TRUTH: output at ${truth.outputV.toFixed(0)} V`);
    if (volts > SAFE_V) wrong.push(`TRUTH: plug at ${volts.toFixed(0)} V`);
  }
  const off = Math.abs(outcome.energyToBatteryKwh - truth.energyAtRaftTerminalsKwh);
  const allowed = Math.max(ENERGY_FLOOR_KWH, ENERGY_SHARE * truth.energyAtRaftTerminalsKwh);
  if (outcome.outcome === 'released' && !(off <= allowed))
    wrong.push(
      `TRUTH: reported ${outcome.energyToBatteryKwh.toFixed(3)} kWh, was ${truth.energyAtRaftTerminalsKwh.toFixed(3)} kWh`,
    );
  return wrong;
}
