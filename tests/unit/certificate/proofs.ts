/** Small proofs laid down by hand, and their certificates. */
import { NOTICE_LINES } from '../../../src/cli/notice.js';
import type { Welcome } from '../../../src/link/frames.js';
import { type DatedProof, dated } from '../../../src/prove/calibration.js';
import { certificateOf } from '../../../src/prove/certificate/certificate.js';
import type { FirstToAct, Measure } from '../../../src/prove/evaluate.js';
import type { LoadedProcedure } from '../../../src/prove/load.js';
import { type Procedure, procedureSchema } from '../../../src/prove/procedure.js';
import { type Proof, proofOf } from '../../../src/prove/proof.js';
import type { ProofHeader, RunRecord } from '../../../src/prove/record.js';
import type { Trace } from '../../../src/prove/trace.js';
import { type LoadedRig, loadRig } from '../../../src/rig/load.js';

export const LOADED: LoadedRig = loadRig('depot-cable');

/** 2002-03-04 05:06:07 UTC. */
export const MADE_MS = Date.UTC(2002, 2, 4, 5, 6, 7);
export const MONTHS = 12;

export const step = (more: Record<string, unknown> = {}) => ({
  step: 'opened',
  title: 'The loop opens',
  protection: { name: 'the relay of the loop', by: 'hard-wired', relay: 'pilot', evidence: 'its contact' },
  wish: { targetEnergyKwh: 1, maxCurrentA: 30 },
  observe: { codes: ['loop-open'], forMs: 400 },
  ends: { outcome: 'tripped', exit: 3 },
  see: [{ time: 'relay', withinMs: { value: 30, source: 'a source of the limit' } }],
  ...more,
});

export function procedure(
  steps: readonly Record<string, unknown>[] = [step()],
  more: Partial<Procedure> = {},
): LoadedProcedure {
  const value = procedureSchema.parse({
    name: 'loop',
    title: 'The loop of the pilot',
    why: 'Without it nobody is safe.',
    steps,
    ...more,
  });
  return { procedure: value, hash: `${'ab'.repeat(31)}${value.name.length % 10}0`, file: 'loop.yaml' };
}

export const device = (more: Partial<Welcome & { port: number }> = {}): Welcome & { port: number } => ({
  ...{ verb: 'welcome', version: 1, port: 0, model: 'model-x', serial: 'serial-7', firmware: '3.2.1' },
  ...{ calibratedOn: 20020101, maxCurrentA: 320, maxVoltageV: 850, watchdogMs: 300, periodMs: 50 },
  ...{ roles: ['converter', 'meter'], latched: false },
  ...more,
});

export const measure = (more: Partial<Measure> = {}): Measure => ({
  ...{ name: 'mark to relay', unit: 'ms', value: 18, lo: 17, hi: 19.5, atMost: 30, atLeast: null },
  ...{ source: 'a source of the limit', n: 123, verdict: 'pass', remark: '' },
  ...more,
});

/** A report every 50 ms; the fault at 0, current and volts gone after it. */
export const trace = (more: Partial<Trace> = {}): Trace => {
  const tMs = Array.from({ length: 40 }, (_, i) => 50 * i - 490);
  return {
    zero: 'mark',
    every: 1,
    tMs,
    currentA: tMs.map((t) => (t < 20 ? 30 : 0)),
    outputV: tMs.map((t) => (t < 20 ? 750 : 750 * Math.exp(-t / 400))),
    plugV: tMs.map((t) => (t < 60 ? 750 : 20)),
    events: [
      { tMs: 0, name: 'mark', detail: '', n: 120 },
      { tMs: 18, name: 'relay', detail: 'pilot', n: 123 },
      { tMs: 40, name: 'parted-p', detail: '', n: 125 },
      { tMs: 44, name: 'parted-n', detail: '', n: 126 },
      { tMs: 60, name: 'finding', detail: 'loop-open', n: 130 },
      { tMs: 410, name: 'trip', detail: 'loop-open', n: 150 },
    ],
    ...more,
  };
};

const PILOT: FirstToAct = { by: 'hard-wired', what: 'pilot', n: 123 };

export const run = (more: Partial<RunRecord> = {}): RunRecord => ({
  ...{ index: 0, procedure: 'loop', step: 'opened', repeat: 1, seed: 5 },
  ...{ journal: 'journals/loop.opened.001.ndjson', journalHash: 'c0'.repeat(32) },
  ...{ measures: [measure()], first: PILOT, verdict: 'pass', deviations: [] },
  ...{ outcome: 'tripped', exit: 3, code: 'loop-open', trace: trace(), devices: [device()] },
  ...more,
});

/** Runs of one step, numbered, each with one figure and a journal of its own. */
export const runsOf = (values: readonly (number | null)[], more: Partial<RunRecord> = {}): RunRecord[] =>
  values.map((value, i) => {
    const verdict = value !== null && value <= 29 ? 'pass' : 'fail';
    return run({
      ...{ index: i, repeat: i + 1, verdict },
      journal: `journals/loop.opened.${String(i + 1).padStart(3, '0')}.ndjson`,
      journalHash: String(i % 10).repeat(64),
      measures: [
        measure({
          ...{ value, n: value === null ? -1 : 500 + i, verdict },
          lo: value === null ? null : value - 1,
          hi: value === null ? null : value + 1,
        }),
      ],
      ...more,
    });
  });

export interface Given {
  readonly procedures?: readonly LoadedProcedure[];
  readonly runs?: readonly RunRecord[];
  readonly header?: Partial<ProofHeader>;
  readonly months?: number;
}

/** Of a real charger, unless the header says otherwise. */
export function proof({ procedures = [procedure()], runs = [run()], header = {} }: Given = {}): Proof {
  const whole: ProofHeader = {
    ...{ kind: 'prove', software: 'loopwarden 9.8.7', build: 'b', rig: 'depot-cable', from: 0 },
    ...{ rigHash: LOADED.hash, seed: 1, repeat: null, step: null, charger: '/dev/ttyX0', cases: runs.length },
    procedures: procedures.map((p) => ({ name: p.procedure.name, hash: p.hash })),
    shard: { index: 1, of: 1 },
    ...header,
  };
  return proofOf({ header: whole, runs }, procedures, LOADED);
}

export const onItsDay = (given: Given = {}): DatedProof =>
  dated(proof(given), MADE_MS, given.months ?? MONTHS);

export const certificate = (of: DatedProof, loaded: LoadedRig = LOADED): Promise<string> =>
  certificateOf({ proof: of, loaded, notice: NOTICE_LINES });

/** Text as a reader sees it: no markup, entities read. */
export const textOf = (html: string): string =>
  html
    .replace(/<style>[\s\S]*?<\/style>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/&lt;/g, '<')
    .replace(/&gt;/g, '>')
    .replace(/&quot;/g, '"')
    .replace(/&#39;/g, "'")
    .replace(/&amp;/g, '&')
    .replace(/\s+/g, ' ');

/** The first page alone. */
export const firstPageOf = (html: string): string =>
  /<section class="first"[\s\S]*?<\/section>/.exec(html)?.[0] ?? '';
