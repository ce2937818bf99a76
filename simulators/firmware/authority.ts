/**
 * Which set-points the converter may be given. Up to the match current of the enable order none is needed; above
 * it a set-point needs a live authority and stays under its ceiling. When the authority runs out or is
 * withdrawn, the converter goes down to zero on its down slope without being asked. The slope itself is the
 * converter's; this part only says yes and no, and watches the time.
 */
import type { Answer } from '../../src/rig/orders.js';
import type { Outputs } from './outputs.js';

/** Longest authority the device grants. */
export const MAX_AUTHORITY_MS = 60_000;

export class Authority {
  private matchA = 0;
  private ceilingA = 0;
  private expiresMs = Number.POSITIVE_INFINITY;
  private setpointA = 0;
  private limitV = 0;

  constructor(
    private readonly outputs: Outputs,
    private readonly hard: { readonly maxCurrentA: number; readonly maxVoltageV: number },
    private readonly expired: (setpointA: number) => void,
  ) {}

  /** Next time something happens by itself; Infinity without a live authority. */
  get nextMs(): number {
    return this.expiresMs;
  }

  enable(args: { matchA: number }): Answer {
    if (!(args.matchA <= this.hard.maxCurrentA)) return 'not-permitted';
    this.matchA = args.matchA;
    // An order said again leaves a standing set-point alone.
    if (!this.outputs.converterOn) this.setpointA = 0;
    this.outputs.apply({ name: 'enable-converter', args });
    return 'done';
  }

  grant(nowMs: number, args: { ceilingA: number; slopeAPerS: number; lifeMs: number }): Answer {
    if (args.ceilingA === 0) {
      this.withdraw();
      return 'done';
    }
    if (!(args.ceilingA <= this.hard.maxCurrentA)) return 'not-permitted';
    if (!(args.slopeAPerS > 0 && args.lifeMs >= 1 && args.lifeMs <= MAX_AUTHORITY_MS)) return 'bad-argument';
    this.ceilingA = args.ceilingA;
    this.expiresMs = nowMs + args.lifeMs;
    this.outputs.apply({ name: 'authority', args });
    // A lower ceiling draws the standing set-point down with it.
    if (this.setpointA > this.allowedA) this.apply(this.allowedA, this.limitV);
    return 'done';
  }

  set(args: { currentA: number; voltageV: number }): Answer {
    // Zero to a converter that is off is what it does already.
    if (!this.outputs.converterOn) return args.currentA === 0 ? 'done' : 'not-permitted';
    const within = args.currentA <= this.hard.maxCurrentA && args.voltageV <= this.hard.maxVoltageV;
    if (!within) return 'not-permitted';
    if (!(args.currentA <= this.allowedA)) return 'no-authority';
    this.apply(args.currentA, args.voltageV);
    return 'done';
  }

  withdraw(): void {
    if (this.ceilingA === 0) return;
    this.ceilingA = 0;
    this.expiresMs = Number.POSITIVE_INFINITY;
    this.apply(0, this.limitV);
    this.outputs.apply({ name: 'authority', args: { ceilingA: 0, slopeAPerS: 0, lifeMs: 0 } });
  }

  /** The converter was switched off: nothing stands any more. */
  drop(): void {
    this.matchA = 0;
    this.ceilingA = 0;
    this.expiresMs = Number.POSITIVE_INFINITY;
    this.setpointA = 0;
  }

  tick(nowMs: number): void {
    if (!(nowMs >= this.expiresMs)) return;
    const wasA = this.setpointA;
    this.withdraw();
    if (wasA > 0) this.expired(wasA);
  }

  private get allowedA(): number {
    return Math.max(this.ceilingA, this.matchA);
  }

  private apply(currentA: number, voltageV: number): void {
    this.setpointA = currentA;
    this.limitV = voltageV;
    this.outputs.apply({ name: 'setpoint', args: { currentA, voltageV } });
  }
}
