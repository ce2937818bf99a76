/** The report on one audited journal: what it says, that every figure is there, and that nothing in it can act. */
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import type { AuditResult } from '../../src/audit/audit.js';
import { hashOnly } from '../../src/journal/writer.js';
import { escaped, html, table } from '../../src/paper/html.js';
import { integrity, LEVELS, NEVER_SHOWN } from '../../src/report/integrity.js';
import { linesOf, resealed } from './journal/build.js';
import { figureIn, htmlOf, journalOf, type Reported, reported } from './report-journals.js';

const SESSION_FIGURES = ['volts', 'amps', 'temperatures', 'soc', 'isolation', 'pilot'];
const TRIP_FIGURES = ['trip-volts', 'trip-amps', 'trip-pilot', 'wave'];

let trippedText = '';
let refusedText = '';
let tripped: Reported;
let refused: Reported;

beforeAll(async () => {
  trippedText = await journalOf('loop-opened');
  tripped = await reported(trippedText);
  refusedText = await journalOf('restart-while-latched');
  refused = await reported(refusedText);
}, 120_000);

/** Everything between tags, as a reader sees it. */
const readable = (markup: string): string =>
  markup
    .replace(/<style>[\s\S]*?<\/style>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ');

describe('a report on a trip', () => {
  it('says on its first page the verdict, the end, and the first-out with reading, limit, setting and time', () => {
    const first = readable(tripped.html.slice(0, tripped.html.indexOf('id="session"')));
    const { firstOut } = tripped.audit;
    expect(first).toContain('SOUND');
    expect(first).toContain('TRIPPED, PROVEN SAFE');
    expect(firstOut).toMatchObject({ code: 'loop-open', setting: 'pilot.sourceOhm' });
    expect(first).toContain(
      `loop-open, the pilot loop is open: plug out, core broken or contact lost: read 0.000014 A against the limit 0.000846 A of pilot.sourceOhm; trip-0 in holding at ${((firstOut?.atMs ?? 0) / 1000).toFixed(3)} s`,
    );
    expect(first).toContain('in virtual time');
    expect(first).toContain('I1 to I12 hold on the record');
    expect(first).toMatch(/kWh to the battery.*lost in the converter/);
    expect(first).toContain('poles proven open, output proven dead, plug proven dead, plug locked');
  });
  it('has the caution on top and at the end', () => {
    const marks = [...tripped.html.matchAll(/<aside class="caution"/g)].map((m) => m.index);
    expect(marks).toHaveLength(2);
    expect(marks[0]).toBeLessThan(tripped.html.indexOf('class="verdict'));
    expect(marks[1]).toBeGreaterThan(tripped.html.indexOf('id="integrity"'));
    expect(readable(tripped.html).match(/LIVE DC KILLS\. This is not a safety function/g)).toHaveLength(2);
  });
  it('has every figure, as an image with words', () => {
    for (const id of [...SESSION_FIGURES, ...TRIP_FIGURES]) {
      const figure = figureIn(tripped.html, id);
      expect(figure, id).toMatch(/<figcaption><strong>[A-Z]/);
      expect(figure, id).toMatch(/<svg viewBox="0 0 680 \d+" role="img" aria-label="[^"]{60,}">/);
    }
    expect([...tripped.html.matchAll(/<figure /g)]).toHaveLength(
      SESSION_FIGURES.length + TRIP_FIGURES.length,
    );
  });
  it('gives each line of a figure a dash of its own and its name', () => {
    const lines: Readonly<Record<string, readonly string[]>> = {
      volts: ['output', 'plug', 'train bus'],
      amps: ['meter', 'converter', 'set-point', 'least limit', 'connection rating'],
      temperatures: ['contact', 'cable', 'hottest cell', 'coldest cell'],
      soc: ['highest raft', 'lowest raft'],
      isolation: ['measured', 'least of the rafts', 'limit', 'warning'],
      pilot: ['r.m.s.', 'mean', 'positive peak', 'negative peak'],
    };
    for (const [id, names] of Object.entries(lines)) {
      const figure = figureIn(tripped.html, id);
      for (const name of names) expect(figure, id).toContain(`>${name}</text>`);
      const drawn = [...figure.matchAll(/aria-label="([^"]*)"/g)][0]?.[1] ?? '';
      expect(drawn, id).toContain('trip at ');
    }
    const dashes = [...figureIn(tripped.html, 'amps').matchAll(/stroke-dasharray="([^"]*)"/g)].map(
      (m) => m[1],
    );
    expect(new Set(dashes).size).toBeGreaterThanOrEqual(4);
  });
  it('marks trip and phases in the figures of the session and around the trip', () => {
    for (const id of [...SESSION_FIGURES, ...TRIP_FIGURES.filter((f) => f !== 'wave')]) {
      expect(figureIn(tripped.html, id), id).toContain('>trip: loop-open</text>');
      expect(figureIn(tripped.html, id), id).toContain('>9 holding</text>');
    }
  });
  it('shows in words the greatest the devices reported, whatever was thinned away', () => {
    const most = (field: string): number =>
      tripped.audit.extremes.find((e) => e.field === field)?.most ?? Number.NaN;
    const alt = (id: string): string => /aria-label="([^"]*)"/.exec(figureIn(tripped.html, id))?.[1] ?? '';
    const told = (id: string, name: string): number =>
      Number(new RegExp(`${name} from \\S+ to ([\\d.]+)`).exec(alt(id))?.[1]);
    expect(told('amps', 'meter')).toBeCloseTo(most('meter.currentMaxA'), 0);
    expect(told('volts', 'plug')).toBeCloseTo(most('meter.plugMaxV'), 0);
    expect(told('temperatures', 'contact')).toBeCloseTo(most('meter.contactC'), 1);
  });
  it('shows the pilot current that the device sent as it latched', () => {
    const { burst } = tripped.collected;
    expect(burst).toMatchObject({ atTrip: true, parts: [2, 2] });
    // The loop is open: the samples are noise, far below a sound loop's peak.
    expect(Math.max(...(burst?.samplesA ?? []))).toBeLessThan(1e-3);
    expect(figureIn(tripped.html, 'wave')).toContain(`${burst?.samplesA.length} samples`);
  });
  it('has a caption and column heads on every table', () => {
    const tables = [...tripped.html.matchAll(/<table>[\s\S]*?<\/table>/g)].map((m) => m[0]);
    expect(tables.length).toBeGreaterThanOrEqual(7);
    for (const each of tables) {
      expect(each).toMatch(/<caption>[^<]{10,}<\/caption>/);
      expect(each).toMatch(/<th scope="col"/);
    }
  });
  it('holds all limits whose margins an audit knows', () => {
    const section = tripped.html.slice(tripped.html.indexOf('<h3>Nearest limits</h3>'));
    const rows = section.slice(0, section.indexOf('</table>')).match(/<tr>/g) ?? [];
    expect(rows.length - 1).toBe(tripped.audit.margins.length);
  });
  it('says which level of protection the journal has', () => {
    const text = readable(tripped.html.slice(tripped.html.indexOf('id="integrity"')));
    expect(text).toContain(tripped.audit.head);
    expect(text).toContain(`yes: ${tripped.audit.seals} seals`);
    expect(text).toContain('not given to this audit');
  });
});

describe('a report', () => {
  it('neither runs, loads nor links to anything', () => {
    for (const { html: text } of [tripped, refused]) {
      expect(text).not.toMatch(/<script|<iframe|<object|<embed|<img|<link|<base|<form|javascript:|\bon\w+=/i);
      expect(text).not.toMatch(/https?:|\burl\(|@import|\bsrc=/i);
      expect([...text.matchAll(/href="([^"]*)"/g)].every((m) => m[1]?.startsWith('#'))).toBe(true);
      expect(text).toContain("default-src 'none'");
    }
  });
  it('is a document with language, title, one heading of the first order, and no id twice', () => {
    for (const { html: text } of [tripped, refused]) {
      expect(text).toMatch(/^<!DOCTYPE html>\n<html lang="en">/);
      expect(text).toContain('<title>Audit of a charge session: depot-cable</title>');
      expect(text.match(/<h1>/g)).toHaveLength(1);
      const ids = [...text.matchAll(/\bid="([^"]*)"/g)].map((m) => m[1]);
      expect(new Set(ids).size).toBe(ids.length);
    }
  });
  it('on a refusal says what was asked, why not, and what would permit it', () => {
    const first = readable(refused.html.slice(0, refused.html.indexOf('id="session"')));
    expect(first).toContain('REFUSED');
    expect(first).toContain('To permit it: find the cause');
    expect(refused.audit.refusals).toHaveLength(2);
    expect(refused.html).toContain('Nothing tripped in this record');
    expect(figureIn(refused.html, 'volts')).toMatch(/aria-label="[^"]*2 refusals marked/);
  });
  it('writes names of people, rigs, devices and codes as text, whatever they hold', async () => {
    const evil = '<script>alert(1)</script><img src=x onerror=alert(2)>"\'&\u202e';
    const inJson = JSON.stringify(evil).slice(1, -1);
    const lines = linesOf(trippedText).map((line) =>
      line
        .replaceAll('"by":"dry-run"', `"by":"${inJson}"`)
        .replaceAll('"rig":"depot-cable"', `"rig":"${inJson}"`)
        .replaceAll('Tarnholt depot', inJson)
        .replaceAll('"model":"lw-sim"', `"model":"${inJson}"`)
        .replaceAll('"code":"loop-open"', `"code":"${inJson}"`)
        .replaceAll('"setting":"pilot.sourceOhm"', `"setting":"${inJson}"`)
        .replaceAll('"limit":"connection rating"', `"limit":"${inJson}"`)
        .replaceAll('"value":"holding"', `"value":"${inJson}"`),
    );
    const { html: text, audit } = await reported(resealed(lines, hashOnly));
    expect(audit.header?.by).toBe(evil);
    expect(text).not.toMatch(/<script|<img|\u202e/i);
    // In the title, the heading, the facts, the tables, and the words and texts of figures.
    expect(text.match(/&lt;script&gt;/g)?.length).toBeGreaterThan(20);
    expect(figureIn(text, 'volts')).toContain('trip: &lt;script&gt;');
    expect(text).toContain(escaped(evil));
    expect(text).not.toMatch(/"[^"<>]*" onerror/);
  });
  it('on a damaged record says so first, shows what can be shown, and up to where decisions could be made anew', async () => {
    // A digit of a current in the middle of the ramp.
    const at = trippedText.indexOf(' mt:', trippedText.indexOf('"n":900,')) + 10;
    const digit = trippedText[at] === '1' ? '2' : '1';
    const { html: text, audit } = await reported(
      trippedText.slice(0, at) + digit + trippedText.slice(at + 1),
    );
    const first = readable(text.slice(0, text.indexOf('id="session"')));
    expect(audit.row).toBe('bad-block');
    expect(first).toContain('RECORD NOT INTACT');
    expect(first).toContain('its bytes are not those that were sealed');
    expect(first).toMatch(/diverge at record \d+/);
    expect(text).toMatch(/What is decided anew \(least limit, measured isolation\): only up to 1\d\.\d{3} s/);
    expect(figureIn(text, 'trip-amps')).toContain('<svg');
  });
  it('on an empty file, on no journal, and on a header alone says what it is', async () => {
    const header = linesOf(trippedText)[0] as string;
    for (const [text, words] of [
      ['', 'the file holds no whole record'],
      ['hello\n', 'the first line is no header'],
      [header, 'without the end of the session'],
    ] as const) {
      const { html: report } = await reported(text);
      const said = readable(report);
      expect(said).toContain(words);
      expect(said).toContain('NO END RECORDED');
      expect(figureIn(report, 'volts')).toContain('Nothing of it could be read in this record.');
    }
  });
  it('on bodies that hold no such thing says which part cannot be laid out, and shows the rest', async () => {
    const odd = linesOf(refusedText).map((line) =>
      line.includes('"k":"refusal"') ? line.replace(/"atS":[\d.]+/, '"atS":null') : line,
    );
    const { html: told, audit, collected } = await reported(resealed(odd, hashOnly));
    expect(told).toContain('its body, of kind refusal, is expected to be an object with atS: a number');
    expect(told).not.toContain('cannot be laid out');
    // And were one to get through.
    const refusals = [{ ...audit.refusals[0], atS: null }] as never;
    const text = await htmlOf({ ...audit, refusals }, collected);
    expect(text).toContain('This part (Refusals) cannot be laid out');
    expect(figureIn(text, 'amps')).toContain('<svg');
    expect(text).toContain('<h3>Extremes</h3>');
  });
});

describe('the statement on integrity', () => {
  it('is the table of the journal format, word for word', () => {
    const format = readFileSync(path.resolve(import.meta.dirname, '../../src/journal/FORMAT.md'), 'utf8');
    const section = format.slice(
      format.indexOf('## What each level proves'),
      format.indexOf('## Durability'),
    );
    // Its first table; the second says what was measured.
    const [, table = ''] = section.split('\n\n|');
    const rows = `|${table.split('\n\n')[0]}`
      .split('\n')
      .filter((line) => line.startsWith('|'))
      .slice(2)
      .map((line) =>
        line
          .replaceAll('`', '')
          .split('|')
          .slice(1, -1)
          .map((cell) => cell.trim()),
      );
    expect(rows).toEqual(Object.values(LEVELS).map((l) => [l.name, l.shows, l.doesNotShow]));
    expect(section).toContain(NEVER_SHOWN);
  });
  it('tells checked from claimed, met from not met, and names what nothing protects', () => {
    const said = (more: Partial<AuditResult>): string =>
      readable(integrity({ ...tripped.audit, ...more }).markup);
    expect(said({ signed: 'valid', key: 'ab'.repeat(32) })).toContain('yes, checked');
    const claimed = said({ signed: 'not-checked', key: 'ab'.repeat(32) });
    expect(claimed).toContain('claimed, NOT checked');
    expect(claimed).not.toContain('yes, checked');
    expect(said({ signed: 'invalid' })).toContain('NO: not of the key given');
    expect(said({ headMet: true })).toContain('yes, met');
    expect(said({ headMet: false })).toContain('given, NOT met');
    expect(said({ unsealedBytes: 77 })).toContain('the last 77 bytes');
    expect(said({ intact: false })).toContain('NOT INTACT');
    expect(said({ clockSteps: [{ atMs: 5000, byMs: -3_600_000 }] })).toContain(
      'by -3600.000 s before 5.000 s',
    );
  });
});

describe('a table', () => {
  const columns = [{ head: 'n', width: 100 }];
  const rows = Array.from({ length: 100 }, (_, i) => [`row ${i}`]);
  it('that is cut shows beginning and end, and says how many more there are', () => {
    const text = table('c', columns, rows, { most: 10, first: 4, leftOut: 5 }).markup;
    const shown = [...text.matchAll(/row (\d+)/g)].map((m) => Number(m[1]));
    expect(shown).toEqual([0, 1, 2, 3, 94, 95, 96, 97, 98, 99]);
    expect(text).toContain('… 95 more are not shown here');
  });
  it('that is not cut says nothing of more', () => {
    expect(table('c', columns, rows, { most: 100 }).markup).not.toContain('more');
  });
});

describe('text put into markup', () => {
  it('is escaped, however it came; markup of ours is not', () => {
    expect(html`<p title="${'"><b>'}">${['<i>'].map((t) => html`<em>${t}</em>`)}${null}${0}</p>`.markup).toBe(
      '<p title="&quot;&gt;&lt;b&gt;"><em>&lt;i&gt;</em>0</p>',
    );
  });
  it('shows what cannot be seen, and half a character', () => {
    expect(escaped('a\u0000b\u202ec\ud800d\te')).toBe('a�b�c�d\te');
  });
});
