/**
 * The device in C, held by the hand: it lives in the time of the test and measures what the test says. The test
 * waits for it, so that nothing here depends on how quick the machine is.
 */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { closeSync, openSync, readSync, writeFileSync, writeSync } from 'node:fs';
import path from 'node:path';
import { temporaryFolder } from '../cli/process.js';
import { checkedReferenceDevice } from '../cli/reference-device.js';
import { Bench, type BenchOptions, type Figures, type Seen } from './bench.js';

/** From the first section of device.c. */
const FIGURES: Figures = {
  maxCurrentA: 320,
  maxVoltageV: 950,
  bleederMaxOnS: 6,
  bleederMaxJ: 5000,
  outputBleederOhm: 60,
  breakingCapacityA: 600,
  waveSpacingNs: 250_000,
  waveSamples: 250,
};
const TAGS: Record<string, string> = {
  converter: 'cv',
  meter: 'mt',
  loop: 'lp',
  isolation: 'is',
  contactor: 'ct',
  bleeder: 'bl',
  latch: 'la',
  berth: 'be',
  train: 'tr',
  raft: 'r1,r2',
  raft1: 'r1',
  supply: 'su',
  stop: 'st',
};
/** Marks in the store of the device: latched, energised. */
export const MARKS = { none: '0', latched: '1', energised: '2' };
/** A device that spins ends by itself: a test that waits for it cannot be interrupted. */
const SPAWN = 'ulimit -t 20; exec "$0" --bench "$@" <to 2>complaint >from';

export class ReferenceBench extends Bench {
  readonly figures = FIGURES;
  nowMs = 0;
  private readonly child: ChildProcess;
  private readonly to: number;
  private readonly from: number;
  private readonly buffer = Buffer.alloc(1 << 16);
  private rest = '';
  private readonly seen: Seen = { currentA: 0, outputV: 0, plugV: 0 };

  constructor(options: BenchOptions & { readonly store?: string } = {}) {
    super();
    const cwd = temporaryFolder();
    const store = options.store ?? path.join(cwd, 'store');
    if (options.latched) writeFileSync(store, MARKS.latched);
    const roles = options.roles ?? Object.keys(TAGS).filter((role) => role !== 'raft1');
    const args = ['--store', store, '--roles', roles.map((role) => TAGS[role]).join(',')];
    spawnSync('mkfifo', ['to', 'from'], { cwd });
    this.child = spawn('sh', ['-c', SPAWN, checkedReferenceDevice().file, ...args], { cwd, stdio: 'ignore' });
    // The shell opens its ends in this order: each waits for the other.
    this.to = openSync(path.join(cwd, 'to'), 'w');
    this.from = openSync(path.join(cwd, 'from'), 'r');
  }

  override close(): void {
    closeSync(this.to);
    closeSync(this.from);
    this.child.kill('SIGKILL');
  }

  see(seen: Partial<Seen>): this {
    Object.assign(this.seen, seen);
    const { currentA, outputV, plugV } = this.seen;
    writeSync(this.to, `=${currentA},${outputV},${plugV}\n`);
    return this;
  }

  /** Bytes as they are, line feeds and all: each line of them is a line for the device. */
  protected deliver(line: string): void {
    writeSync(this.to, Buffer.from(`>${line}\n`, 'latin1'));
  }

  protected advance(ms: number): void {
    writeSync(this.to, `+${ms}\n`);
    this.nowMs += ms;
    for (;;) {
      const end = this.rest.indexOf('\n');
      if (end < 0) {
        const bytes = readSync(this.from, this.buffer);
        if (bytes === 0) throw new Error('the device in C has ended');
        this.rest += this.buffer.toString('latin1', 0, bytes);
        continue;
      }
      const line = this.rest.slice(0, end);
      this.rest = this.rest.slice(end + 1);
      if (line === '.') return;
      this.hear(line);
    }
  }
}
