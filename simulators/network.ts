/**
 * A small linear network solved by backward Euler at a fixed step: node volts against chassis, resistive
 * branches (each may hold an e.m.f.), capacitors, and one controlled current source.
 *
 * The matrix that carries the node volts over one step is kept and rebuilt only when a conductance has really
 * changed, so a step is one 6 × 6 product. Branch currents always use the conductance that is in the matrix, so charge and energy
 * balance even while a slowly drifting resistance waits for its next rebuild. Every node needs some way to chassis:
 * below about 1e-10 of the largest conductance (capacitance per step counts) the volts lose their accuracy.
 */

export const NODE = { outP: 0, outN: 1, plugP: 2, plugN: 3, trainP: 4, trainN: 5 } as const;
export type Node = (typeof NODE)[keyof typeof NODE];
export const NODE_COUNT = 6;
/** The other end of a branch to chassis. */
export const CHASSIS = -1;

/** Relative change of a conductance that is worth a rebuild. */
const REBUILD_SHARE = 1e-3;
const MAX_BRANCHES = 64;
const MAX_CAPACITORS = 24;
const N = NODE_COUNT;

export class Network {
  /** Node volts to chassis. */
  readonly volts = new Float64Array(N);
  readonly stepS: number;

  readonly #from = new Int8Array(MAX_BRANCHES);
  readonly #to = new Int8Array(MAX_BRANCHES);
  readonly #g = new Float64Array(MAX_BRANCHES);
  readonly #emf = new Float64Array(MAX_BRANCHES);
  #branches = 0;

  readonly #capFrom = new Int8Array(MAX_CAPACITORS);
  readonly #capTo = new Int8Array(MAX_CAPACITORS);
  readonly #capF = new Float64Array(MAX_CAPACITORS);
  readonly #capPerStep = new Float64Array(MAX_CAPACITORS);
  #capacitors = 0;

  readonly #inverse = new Float64Array(N * N);
  readonly #work = new Float64Array(N * 2 * N);
  /** Carries the node volts of one step to the next: inverse × capacitance per step. */
  readonly #carry = new Float64Array(N * N);
  readonly #emfA = new Float64Array(N);
  /** Node volts each step adds because of the e.m.f.s. */
  readonly #push = new Float64Array(N);
  /** Node volts per ampere of the controlled source. */
  readonly #lift = new Float64Array(N);
  #liftOhm = 0;
  #matrixDirty = true;
  #emfDirty = true;
  #rebuilds = 0;
  #sourceFrom: number = NODE.outN;
  #sourceTo: number = NODE.outP;

  constructor(stepS: number) {
    this.stepS = stepS;
  }

  /** How often the matrix was inverted; for tests of the caching. */
  get rebuilds(): number {
    return this.#rebuilds;
  }

  addBranch(from: number, to: number, conductanceS: number): number {
    const id = this.#branches++;
    if (id >= MAX_BRANCHES) throw new Error('network: too many branches');
    this.#from[id] = from;
    this.#to[id] = to;
    this.#g[id] = conductanceS;
    this.#matrixDirty = true;
    return id;
  }

  addCapacitor(from: number, to: number, farad: number): number {
    const id = this.#capacitors++;
    if (id >= MAX_CAPACITORS) throw new Error('network: too many capacitors');
    this.#capFrom[id] = from;
    this.#capTo[id] = to;
    this.setCapacitance(id, farad);
    return id;
  }

  /** Changes a capacitance at constant voltage (as if the added part came charged). */
  setCapacitance(id: number, farad: number): void {
    this.#capF[id] = farad;
    this.#capPerStep[id] = farad / this.stepS;
    this.#matrixDirty = true;
  }

  capacitance(id: number): number {
    return this.#capF[id]!;
  }

  setConductance(id: number, conductanceS: number): void {
    const used = this.#g[id]!;
    if (Math.abs(conductanceS - used) > REBUILD_SHARE * used) {
      this.#g[id] = conductanceS;
      this.#matrixDirty = true;
      if (this.#emf[id] !== 0) this.#emfDirty = true;
    }
  }

  conductance(id: number): number {
    return this.#g[id]!;
  }

  emf(id: number): number {
    return this.#emf[id]!;
  }

  /** E.m.f. of a branch: its current is g · (v_from − v_to − emf). */
  setEmf(id: number, emfV: number): void {
    if (this.#emf[id] !== emfV) {
      this.#emf[id] = emfV;
      if (this.#g[id] !== 0) this.#emfDirty = true;
    }
  }

  /** Moves a branch to other nodes (a plug wired the wrong way round). */
  rewire(id: number, from: number, to: number): void {
    this.#from[id] = from;
    this.#to[id] = to;
    this.#matrixDirty = true;
    this.#emfDirty = true;
  }

  voltage(from: number, to: number): number {
    return (from < 0 ? 0 : this.volts[from]!) - (to < 0 ? 0 : this.volts[to]!);
  }

  current(id: number): number {
    const g = this.#g[id]!;
    if (g === 0) return 0;
    return g * (this.voltage(this.#from[id]!, this.#to[id]!) - this.#emf[id]!);
  }

  /** Heat in a branch, W. */
  heatW(id: number): number {
    const g = this.#g[id]!;
    if (g === 0) return 0;
    const v = this.voltage(this.#from[id]!, this.#to[id]!) - this.#emf[id]!;
    return g * v * v;
  }

  /** Energy in all capacitors, J. */
  storedJ(): number {
    let sum = 0;
    for (let k = 0; k < this.#capacitors; k++) {
      const v = this.voltage(this.#capFrom[k]!, this.#capTo[k]!);
      sum += 0.5 * this.#capF[k]! * v * v;
    }
    return sum;
  }

  /**
   * First half of a step: the node volts that would follow with the controlled source at zero. Returns the
   * voltage across the source; `liftOhm` tells what each ampere adds to it.
   */
  prepare(): number {
    if (this.#matrixDirty) this.#rebuild();
    if (this.#emfDirty) this.#collectEmf();
    const v = this.volts;
    const m = this.#carry;
    const push = this.#push;
    const v0 = v[0]!;
    const v1 = v[1]!;
    const v2 = v[2]!;
    const v3 = v[3]!;
    const v4 = v[4]!;
    const v5 = v[5]!;
    for (let i = 0, o = 0; i < N; i++, o += N) {
      v[i] =
        push[i]! +
        m[o]! * v0 +
        m[o + 1]! * v1 +
        m[o + 2]! * v2 +
        m[o + 3]! * v3 +
        m[o + 4]! * v4 +
        m[o + 5]! * v5;
    }
    return v[this.#sourceTo]! - v[this.#sourceFrom]!;
  }

  /** Volts across the controlled source per ampere of it, at the end of a step. Valid after `prepare`. */
  get liftOhm(): number {
    return this.#liftOhm;
  }

  /** Second half of a step: lets the controlled source deliver this current. */
  deliver(currentA: number): void {
    if (currentA === 0) return;
    const v = this.volts;
    for (let i = 0; i < N; i++) v[i] = v[i]! + this.#lift[i]! * currentA;
  }

  #collectEmf(): void {
    const amps = this.#emfA;
    amps.fill(0);
    for (let id = 0; id < this.#branches; id++) {
      const i = this.#g[id]! * this.#emf[id]!;
      if (i === 0) continue;
      const a = this.#from[id]!;
      const b = this.#to[id]!;
      if (a >= 0) amps[a] = amps[a]! + i;
      if (b >= 0) amps[b] = amps[b]! - i;
    }
    for (let i = 0; i < N; i++) {
      let sum = 0;
      for (let j = 0; j < N; j++) sum += this.#inverse[i * N + j]! * amps[j]!;
      this.#push[i] = sum;
    }
    this.#emfDirty = false;
  }

  /** Stamps all parts and inverts by Gauss–Jordan; the matrix is symmetric and positive definite: no pivoting. */
  #rebuild(): void {
    const w = this.#work;
    const W = 2 * N;
    w.fill(0);
    const stamp = (a: number, b: number, g: number) => {
      if (a >= 0) w[a * W + a] = w[a * W + a]! + g;
      if (b >= 0) w[b * W + b] = w[b * W + b]! + g;
      if (a >= 0 && b >= 0) {
        w[a * W + b] = w[a * W + b]! - g;
        w[b * W + a] = w[b * W + a]! - g;
      }
    };
    for (let id = 0; id < this.#branches; id++) stamp(this.#from[id]!, this.#to[id]!, this.#g[id]!);
    const carry = this.#carry;
    carry.fill(0);
    for (let k = 0; k < this.#capacitors; k++)
      stamp(this.#capFrom[k]!, this.#capTo[k]!, this.#capPerStep[k]!);
    for (let i = 0; i < N; i++) w[i * W + N + i] = 1;
    for (let p = 0; p < N; p++) {
      const scale = 1 / w[p * W + p]!;
      for (let c = p; c < W; c++) w[p * W + c] = w[p * W + c]! * scale;
      for (let r = 0; r < N; r++) {
        if (r === p) continue;
        const f = w[r * W + p]!;
        if (f === 0) continue;
        for (let c = p; c < W; c++) w[r * W + c] = w[r * W + c]! - f * w[p * W + c]!;
      }
    }
    for (let i = 0; i < N; i++) for (let j = 0; j < N; j++) this.#inverse[i * N + j] = w[i * W + N + j]!;
    for (let i = 0; i < N; i++)
      this.#lift[i] = this.#inverse[i * N + this.#sourceTo]! - this.#inverse[i * N + this.#sourceFrom]!;
    // Column by column of each capacitor: its charge goes in at one end and out at the other.
    for (let k = 0; k < this.#capacitors; k++) {
      const a = this.#capFrom[k]!;
      const b = this.#capTo[k]!;
      for (let i = 0; i < N; i++) {
        const raised = this.#inverse[i * N + a]! - (b < 0 ? 0 : this.#inverse[i * N + b]!);
        const q = raised * this.#capPerStep[k]!;
        carry[i * N + a] = carry[i * N + a]! + q;
        if (b >= 0) carry[i * N + b] = carry[i * N + b]! - q;
      }
    }
    this.#liftOhm = this.#lift[this.#sourceTo]! - this.#lift[this.#sourceFrom]!;
    this.#matrixDirty = false;
    this.#emfDirty = true;
    this.#rebuilds++;
  }
}
