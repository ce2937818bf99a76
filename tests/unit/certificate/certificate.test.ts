/** The certificate: what it says of proofs that passed, failed or left open, and that no text in it can act. */
import { createHash } from 'node:crypto';
import { beforeAll, describe, expect, it } from 'vitest';
import { NOTICE_LINES } from '../../../src/cli/notice.js';
import { NOT_CERTIFIED } from '../../../src/prove/certificate/first-page.js';
import { stripSpec } from '../../../src/prove/certificate/strip.js';
import { shownEvents, windowOf } from '../../../src/prove/certificate/trip-plot.js';
import { proofText } from '../../../src/prove/proof.js';
import {
  certificate,
  device,
  firstPageOf,
  LOADED,
  measure,
  onItsDay,
  procedure,
  run,
  runsOf,
  step,
  textOf,
  trace,
} from './proofs.js';

/** Verdicts on a piece of it, by their shapes. */
const shapesIn = (html: string): string[] =>
  [...html.matchAll(/data-verdict="([^"]+)"/g)].map((m) => m[1] as string);
const wholeIn = (html: string): string => /<p class="verdict [^"]*">([\s\S]*?)<\/p>/.exec(html)?.[1] ?? '';

describe('of a real charger that passed', () => {
  const runs = runsOf([18, 22]);
  const of = onItsDay({ runs });
  let html = '';
  let first = '';
  beforeAll(async () => {
    html = await certificate(of);
    first = firstPageOf(html);
  });

  it('says so in words and by a shape, and calls itself a certificate', () => {
    expect(html).toContain('<title>Certificate of proof: depot-cable</title>');
    expect(textOf(wholeIn(first))).toContain('PASSED');
    expect(shapesIn(wholeIn(first))).toEqual(['pass']);
    expect(textOf(html)).not.toContain('SIMULATED');
    expect(html).not.toContain('class="doubts"');
  });
  it('counts its steps by verdict', () => {
    expect(textOf(first)).toMatch(/1 passed 0 failed 0 inconclusive 0 not applicable/);
  });
  it('names what was proven: equipment by port, where, rig, software, procedures with their hashes, the day', () => {
    const text = textOf(first);
    expect(text).toMatch(/charger model-x serial-7 3\.2\.1 2002-01-01, in date 2 /);
    expect(text).toContain('at /dev/ttyX0');
    expect(text).toContain(LOADED.hash);
    expect(text).toContain(LOADED.rig.title);
    expect(text).toContain('loopwarden 9.8.7');
    expect(text).toContain(of.procedures[0]?.hash);
    expect(text).toContain('2002-03-04 (UTC)');
  });
  it('leaves lines for three persons, empty', () => {
    const table = /<table class="sign">([\s\S]*?)<\/table>/.exec(first)?.[1] ?? '';
    const rows = [...table.matchAll(/<tr>([\s\S]*?)<\/tr>/g)].slice(1).map((m) => m[1] ?? '');
    expect(rows.map((r) => textOf(r).trim().split(' ')[0])).toEqual(['Tester', 'Competent', 'Witness']);
    for (const row of rows) expect(row.match(/<td><\/td>/g)).toHaveLength(3);
  });
  it('has the caution that every command prints, and says what it does not certify', () => {
    for (const line of NOTICE_LINES) expect(textOf(first)).toContain(line);
    for (const line of NOT_CERTIFIED) expect(textOf(first)).toContain(line);
    expect(NOT_CERTIFIED.join(' ')).toMatch(/not the certification of a safety function/);
  });
  it('shows each figure with its limit, its source, its spread and the worst, uncertainty counted', () => {
    const figures = textOf(/<table class="figures"[\s\S]*?<\/table>/.exec(html)?.[0] ?? '');
    expect(figures).toMatch(/mark to relay , ms ≤ 30 ms 2 18 18 22 22 1 23 passed/);
    expect(figures).toContain('Limit: a source of the limit.');
    expect(figures).toContain('Worst in journals/loop.opened.002.ndjson , record 501.');
  });
  it('traces the figure of every run to its journal, its hash and its record', () => {
    const text = textOf(/<section id="records"[\s\S]*?<\/section>/.exec(html)?.[0] ?? '');
    for (const [i, { journal, journalHash, measures }] of runs.entries())
      expect(text).toContain(
        `${journal} ${journalHash} mark to relay ${measures[0]?.value} ms (record ${500 + i})`,
      );
  });
  it('has the beginning of the hash of proof.json as its number, on its face and at the foot of every sheet', () => {
    const hash = createHash('sha256').update(proofText(of)).digest('hex');
    expect(textOf(first)).toContain(`no. ${hash.slice(0, 12)}`);
    expect(html).toContain(`content: "Certificate ${hash.slice(0, 12)} · Live DC kills.`);
    expect(textOf(html)).toContain(hash);
  });
  it('plots the trip, its marks named, and says where each stands', () => {
    const figure = /<figure id="fig-1\.1">([\s\S]*?)<\/figure>/.exec(html)?.[1] ?? '';
    expect(figure.match(/<svg /g)).toHaveLength(2);
    const drawn = [...figure.matchAll(/<text[^>]*>([^<]*)<\/text>/g)].map((m) => m[1]);
    for (const name of ['fault 0 ms', 'relay 18 ms', 'P parted 40 ms', 'TRIP loop-open 410 ms'])
      expect(
        drawn.filter((t) => t === name),
        name,
      ).toHaveLength(1);
    for (const line of ['current', 'output', 'plug', '60 V']) expect(drawn).toContain(line);
    expect(textOf(figure)).toContain('TRIP loop-open 410 ms (record 150)');
    expect(figure).toContain('aria-label="Current: The loop opens, in A;');
  });
  it('comes out the same for the same proof, and otherwise for another', async () => {
    expect(await certificate(of)).toBe(html);
    expect(await certificate(onItsDay({ runs: runsOf([18, 21]) }))).not.toBe(html);
  });
});

describe('of a simulated charger', () => {
  it('says so large, on every sheet, and certifies nothing of a real one', async () => {
    const html = await certificate(onItsDay({ header: { charger: 'simulated' } }));
    const first = firstPageOf(html);
    expect(html).toContain('<title>Certificate of proof: depot-cable (SIMULATED)</title>');
    expect(first).toContain('<strong>SIMULATED</strong>');
    expect(textOf(first)).toContain('Nothing is certified of any real charger');
    expect(html).toMatch(/content: "Certificate [0-9a-f]{12} · SIMULATED · /);
  });
  it('names the weakness it was given', async () => {
    const html = await certificate(onItsDay({ header: { charger: 'pilot-relay-missing' } }));
    expect(textOf(firstPageOf(html))).toContain('pilot-relay-missing: there is no pilot relay');
  });
});

describe('of a proof that did not pass', () => {
  it('is called no certificate when it failed; step, deviations and runs stand there', async () => {
    const deviations = [
      'only the supervisor acted first, where the relay of the loop must',
      'exit 9, expected 3',
    ];
    const runs = [
      ...runsOf([18]),
      run({
        index: 1,
        repeat: 2,
        verdict: 'fail',
        deviations,
        measures: [measure({ value: null, lo: null, hi: null, n: -1, verdict: 'fail' })],
      }),
    ];
    const html = await certificate(onItsDay({ runs }));
    const first = firstPageOf(html);
    expect(html).toContain('<title>No certificate: depot-cable, proof not passed</title>');
    expect(shapesIn(wholeIn(first))).toEqual(['fail']);
    expect(textOf(wholeIn(first))).toContain('FAILED');
    expect(textOf(first)).toContain('FAILED: 1.1 The loop opens');
    const told = textOf(/<div class="deviations">[\s\S]*?<\/div>/.exec(html)?.[0] ?? '');
    expect(told).toContain(`run 2, journals/loop.opened.001.ndjson : ${deviations.join('; ')}`);
    expect(textOf(html)).toMatch(/1 of 2 18 18 18 18 1 not seen FAILED/);
    // The plot is of the run that failed.
    expect(textOf(html)).toContain('Run 2, ');
  });
  it('counts as not passed when a limit lies within the uncertainty', async () => {
    const at = measure({ value: 29.5, lo: 28, hi: 31, verdict: 'inconclusive' });
    const html = await certificate(onItsDay({ runs: [run({ measures: [at], verdict: 'inconclusive' })] }));
    const first = firstPageOf(html);
    expect(shapesIn(wholeIn(first))).toEqual(['inconclusive']);
    expect(textOf(wholeIn(first))).toContain('NOT PASSED');
    expect(textOf(first)).toContain('inconclusive: 1.1 The loop opens');
  });
  it('marks an expired calibration at the equipment and on top of the first page', async () => {
    const runs = runsOf([18], { devices: [device({ calibratedOn: 20001231 })] });
    const first = firstPageOf(await certificate(onItsDay({ runs })));
    expect(shapesIn(wholeIn(first))).toEqual(['inconclusive']);
    const equipment = /<table class="equipment">[\s\S]*?<\/table>/.exec(first)?.[0] ?? '';
    expect(textOf(equipment)).toContain('2000-12-31 EXPIRED');
    expect(first.indexOf('calibration EXPIRED')).toBeGreaterThan(0);
    expect(first.indexOf('calibration EXPIRED')).toBeLessThan(first.indexOf('<table class="equipment">'));
  });
  it('says that runs are missing, and of a step without any that nothing is shown', async () => {
    const two = procedure([step(), step({ step: 'again', title: 'Once more' })]);
    const html = await certificate(onItsDay({ procedures: [two], header: { cases: 4 } }));
    const first = firstPageOf(html);
    expect(textOf(first)).toContain('NOT COMPLETE: 3 of 4 runs were not made');
    expect(textOf(first)).toContain('1 of 4, by');
    expect(textOf(html)).toContain('No run of this step was made: nothing is shown.');
  });
  it('says of a step that does not apply that it does not, by a shape of its own', async () => {
    const two = procedure([step(), step({ step: 'shoes', title: 'By shoes', needs: ['shoes'] })]);
    const html = await certificate(onItsDay({ procedures: [two] }));
    const section = /<section class="step" id="step-1\.2">[\s\S]*?<\/section>/.exec(html)?.[0] ?? '';
    expect(shapesIn(section)).toEqual(['not-applicable']);
    expect(textOf(section)).toContain('Not applicable');
    expect(section).not.toContain('<table');
    expect(shapesIn(wholeIn(firstPageOf(html)))).toEqual(['pass']);
  });
});

describe('texts of files', () => {
  it('are text wherever they stand, never markup', async () => {
    const bad = `<img src=x onerror="alert(1)"></title><script>alert(1)</script>"'&--></style>`;
    const wicked = procedure(
      [
        step({
          title: bad,
          protection: { name: bad, by: 'hard-wired', relay: 'pilot', evidence: bad },
          see: [{ time: 'relay', withinMs: { value: 30, source: bad } }],
        }),
      ],
      { title: bad, why: bad },
    );
    const runs = [
      run({
        journal: bad,
        journalHash: bad,
        deviations: [bad],
        verdict: 'fail',
        first: { by: 'hard-wired', what: bad, n: 1 },
        measures: [measure({ name: bad, unit: bad, source: bad })],
        devices: [device({ model: bad, serial: bad, firmware: bad, calibratedOn: 20000101 })],
        trace: trace({ events: [{ tMs: 0, name: 'trip', detail: bad, n: 3 }] }),
      }),
    ];
    const header = {
      charger: bad,
      software: bad,
      rig: bad,
      rigHash: bad,
      procedures: [{ name: 'loop', hash: bad }],
    };
    const html = await certificate(onItsDay({ procedures: [{ ...wicked, hash: bad }], runs, header }));
    expect(html).not.toMatch(/<(script|img|iframe|object|link)\b/i);
    expect(html.match(/<title>/g)).toHaveLength(1);
    expect(html.match(/<\/style>/g)).toHaveLength(1);
    // No attribute was opened or added: what is left of tags has only attributes of ours.
    const attributes = [...html.matchAll(/<[a-z][^>]*>/g)].flatMap((tag) =>
      [...tag[0].replace(/"[^"]*"/g, '""').matchAll(/\s([a-z-]+)=/gi)].map((m) => m[1]),
    );
    expect(attributes.filter((name) => /^on/i.test(name ?? ''))).toEqual([]);
    // It is all there, to be read.
    expect(textOf(html).split(`alert(1)</script>`).length).toBeGreaterThan(12);
  });
});

describe('a plot', () => {
  const measures = (name: string, max: number) =>
    [{ name, unit: 'ms', spread: { n: 1, min: max, median: max, p95: max, max } }] as never;
  it('reaches from before the fault to after the last that was marked or timed', () => {
    const marked = windowOf({ trace: trace(), measures: [] as never });
    expect(marked.from).toBeLessThan(-50);
    expect(marked.from).toBeGreaterThan(-200);
    expect(marked.to).toBeGreaterThan(450);
    expect(marked.to).toBeLessThan(600);
    const timed = windowOf({ trace: trace(), measures: measures('mark to plug-safe', 1200) });
    expect(timed.to).toBeGreaterThan(1200);
  });
  it('keeps a moment at the very start, before the first reading', () => {
    const { from } = windowOf({
      trace: trace({
        tMs: [60, 110, 160],
        zero: 'relay',
        events: [{ tMs: 0, name: 'relay', detail: '', n: 2 }],
      }),
      measures: [] as never,
    });
    expect(from).toBeLessThan(0);
  });
  it('names the first of each kind and no more than three faults', () => {
    const events = [
      'mark',
      'finding',
      'mark',
      'finding',
      'mark',
      'mark',
      'converter-off',
      'trip',
      'trip',
    ].map((name, i) => ({ tMs: i, name, detail: '', n: i })) as never;
    expect(shownEvents({ events }).map((e) => [e.name, e.n])).toEqual([
      ['mark', 0],
      ['finding', 1],
      ['mark', 2],
      ['mark', 4],
      ['trip', 7],
    ]);
  });
  it('is left out, in words, where there are no readings', async () => {
    const html = await certificate(
      onItsDay({ runs: [run({ trace: trace({ tMs: [], currentA: [], outputV: [], plugV: [] }) })] }),
    );
    expect(html).not.toContain('<figure id="fig');
    expect(textOf(html)).toContain('No plot: the record of this run holds no readings');
  });
  it('of a fault long ago says when it was', async () => {
    const events = [
      { tMs: -34_420, name: 'mark', detail: '', n: 9 },
      { tMs: 0, name: 'relay', detail: 'over-temperature', n: 80 },
    ] as const;
    const html = await certificate(onItsDay({ runs: [run({ trace: trace({ zero: 'relay', events }) })] }));
    expect(textOf(html)).toContain('Not in the picture: fault 34.42 s earlier (record 9).');
  });
});

describe('a strip', () => {
  const of = (n: number) => onItsDay({ runs: runsOf(Array.from({ length: n }, (_, i) => 18 + i / 4)) });
  it('is drawn from ten runs on, a tick each', async () => {
    expect(await certificate(of(9))).not.toContain('id="strip-');
    const html = await certificate(of(10));
    const strip = /<figure id="strip-1\.1-1">([\s\S]*?)<\/figure>/.exec(html)?.[1] ?? '';
    expect(strip).toContain('10 runs from 18 to 20.25, worst 21.25, limit at most 30');
    const lines = [...strip.matchAll(/<line [^>]*stroke-width="([\d.]+)"/g)].map((m) => m[1]);
    expect(lines.filter((w) => w === '0.7')).toHaveLength(10);
    expect(lines.filter((w) => w === '2.6')).toHaveLength(1);
  });
  it('is none where every run and the limit are 0', () => {
    const values = Array.from({ length: 12 }, (_, i) => ({ repeat: i + 1, value: 0, n: -1 }));
    const zero = { name: 'x', unit: '', atMost: 0, atLeast: null, worst: 0, spread: null, values } as never;
    expect(stripSpec(zero)).toBeNull();
  });
});
