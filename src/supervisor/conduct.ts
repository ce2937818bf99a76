/** The machine at work: gives it events, carries out what it emits, and knows which phase stands since when. */
import type { SessionEvent } from '../../machines/vocabulary.js';
import type { Observation } from '../checks/check.js';
import type { JournalWriter } from '../journal/writer.js';
import type { Order } from '../rig/orders.js';
import type { Phase } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import { begin, changes, type Decision, decide, type MachineSnapshot, phaseOf } from './decide.js';
import type { SessionLog } from './log.js';
import type { Outbox } from './outbox.js';
import type { Regulator } from './regulator.js';
import type { SessionOutputs } from './session-types.js';
import { timerMs } from './timers.js';

export interface ConductParts {
  readonly rig: Rig;
  readonly out: SessionOutputs;
  readonly journal: JournalWriter;
  readonly outbox: Outbox;
  readonly regulator: Regulator;
  readonly log: SessionLog;
}

export class Conduct {
  snapshot: MachineSnapshot;
  phase: Phase = 'parked';
  phaseAtMs = 0;

  constructor(
    private readonly parts: ConductParts,
    latched: boolean,
  ) {
    const path = parts.rig.converter.matchesVoltage ? 'match' : 'pre-charge';
    this.snapshot = begin({ path, latched }).snapshot;
  }

  can(type: SessionEvent['type']): boolean {
    return this.snapshot.can({ type });
  }

  /** True when the event would lead anywhere. */
  wants(type: SessionEvent['type']): boolean {
    return changes(this.snapshot, { type });
  }

  /** @param seen what the figures of the orders come from */
  give(type: SessionEvent['type'], seen: Observation | null, nowMs: number): void {
    const { journal, regulator, log } = this.parts;
    const decision = decide(this.snapshot, { type });
    this.#carryOut(decision, seen, nowMs);
    journal.record(nowMs, 'event', type);
    const { value, context } = decision.snapshot;
    journal.record(nowMs, 'state', { value, flags: context });
    const phase = phaseOf(decision.snapshot);
    if (phase === this.phase) return;
    this.phase = phase;
    this.phaseAtMs = nowMs;
    if (phase === 'securing') log.startedMs = nowMs;
    regulator.phase(phase);
    log.entered(phase, nowMs);
  }

  /** Orders leave first, then the journal is told; only durable ones go the other way round. */
  #carryOut(decision: Decision, seen: Observation | null, nowMs: number): void {
    const { rig, out, outbox, regulator } = this.parts;
    this.snapshot = decision.snapshot;
    const orders: Order[] = [];
    for (const e of decision.emissions) {
      if (e.kind === 'command') orders.push(...regulator.ordersOf(e.command, seen));
      else if (e.kind === 'start-timer') out.startTimer(e.timer, timerMs(e.timer, rig));
      else out.cancelTimer(e.timer);
    }
    outbox.dispatch(orders, nowMs);
  }
}
