/** Runs all checks on one observation and lays their statements together. */
import type {
  Check,
  CheckResult,
  CurrentLimit,
  EndReason,
  Finding,
  Observation,
  Proof,
} from '../checks/check.js';
import type { Order } from '../rig/orders.js';
import type { Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { isolate } from './commands.js';
import type { MachineSnapshot } from './decide.js';
import type { Standing } from './order-book.js';

export interface Statements {
  readonly findings: readonly Finding[];
  readonly proofs: readonly Proof[];
  readonly limits: readonly CurrentLimit[];
  readonly end: EndReason | null;
  readonly ask: CheckResult<unknown>['ask'] | null;
  readonly mayJoinRaft: number | null;
}

/** The isolation check connects its device only in these phases; later the machine does. */
const ASKING: readonly Phase[] = [
  'checking-isolation',
  'joining-train',
  'matching-voltage',
  'pre-charging',
  'closing',
  'ramping',
  'holding',
  'tapering',
];

export class CheckRunner {
  readonly #states: unknown[];
  /** What was said in the newest step, what holds included; null before the first. */
  last: Statements | null = null;

  constructor(
    private readonly rig: Rig,
    // biome-ignore lint/suspicious/noExplicitAny: each check keeps a state of its own type
    private readonly checks: readonly Check<any>[],
  ) {
    this.#states = checks.map((c) => c.initial(rig));
  }

  run(seen: Observation, own: readonly Finding[]): Statements {
    const findings: Finding[] = [...own];
    const proofs: Proof[] = [];
    const limits: CurrentLimit[] = [];
    let end: EndReason | null = null;
    let ask: CheckResult<unknown>['ask'] | null = null;
    let mayJoinRaft: number | null = null;
    for (let i = 0; i < this.checks.length; i++) {
      const result: CheckResult<unknown> = this.checks[i]!.run(this.#states[i], seen, this.rig);
      // One by one: spreading into push costs more than most checks.
      for (const f of result.findings) findings.push(f);
      const { proofs: proven, limits: named } = result;
      if (proven !== undefined) for (const p of proven) proofs.push(p);
      if (named !== undefined) for (const l of named) limits.push(l);
      end ??= result.end ?? null;
      ask ??= result.ask ?? null;
      mayJoinRaft ??= result.mayJoinRaft ?? null;
      this.#states[i] = result.state;
    }
    this.last = { findings, proofs, limits, end, ask, mayJoinRaft };
    return this.last;
  }

  /** Orders the checks ask for, where the machine lets them: measuring steps, and the next raft. */
  wanted(said: Statements, phase: Phase, snapshot: MachineSnapshot, ordered: Standing): Order[] {
    const orders: Order[] = [];
    const { ask, mayJoinRaft } = said;
    if (
      ask &&
      ASKING.includes(phase) &&
      (ask.point !== ordered.isolationPoint || ask.resistor !== ordered.isolationResistor)
    )
      orders.push(isolate(ask.point, ask.resistor));
    if (mayJoinRaft !== null && snapshot.hasTag('may-join') && ordered.raftJoined[mayJoinRaft] === false)
      orders.push({ name: 'join-raft', args: { raft: mayJoinRaft + 1 } });
    return orders;
  }
}
