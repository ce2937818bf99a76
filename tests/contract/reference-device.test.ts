/** The device in C (simulators/reference-device) against the contract, and its parser against everything else. */
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { decodeToDevice, decodeToSupervisor, encodeToDevice } from '../../src/link/codec.js';
import { crc32c, crcText } from '../../src/link/crc32c.js';
import { LATCH_CAUSE, type ToSupervisor } from '../../src/link/frames.js';
import { endAll, temporaryFolder } from '../cli/process.js';
import { COMPILER, checkedReferenceDevice, referenceDevice, UNLESS_BUILT } from '../cli/reference-device.js';
import { TO_DEVICE } from '../unit/codec-vectors.js';
import type { BenchOptions } from './bench.js';
import { bare, benches, deviceContract, ENABLE, GRANT, SET } from './device.contract.js';
import { makeSafeContract } from './make-safe.contract.js';
import { ReferenceBench } from './reference-bench.js';

afterAll(endAll);

const make = (options?: BenchOptions) => new ReferenceBench(options);

describe.skipIf(COMPILER === undefined)(`in C${UNLESS_BUILT}`, () => {
  deviceContract('reference, in C', make);
  makeSafeContract('reference, in C', make);

  describe('reference device: what only it shows', () => {
    const fresh = benches(make);

    it('builds without a warning, with and without the checks of the compiler', () => {
      expect(referenceDevice()).toMatch(/device$/);
      expect(checkedReferenceDevice().file).toMatch(/device/);
    });

    it('comes up latched when power went while energised, and says why', () => {
      const store = path.join(temporaryFolder(), 'store');
      const before = new ReferenceBench({ store }).charge(200);
      before.close();
      const bench = new ReferenceBench({ store }).hello('11111111').feed();
      expect(bench.welcome?.latched).toBe(true);
      expect(bench.tags).toEqual([`latched:${LATCH_CAUSE.restart}`]);
      expect(bench.order(ENABLE)).toBe('latched@0');
      expect(bench.order(bare('clear-latch'), bare('unlock'))).toBe('done');
      bench.close();
      const after = new ReferenceBench({ store }).hello('11111111');
      expect(after.welcome?.latched).toBe(false);
      after.close();
    });

    it('follows the slope of its authority up, and its own down', () => {
      const bench = fresh().hello('11111111').feed();
      bench.order(ENABLE, GRANT(100, 1000), SET(80));
      const applied = () => bench.report?.roles.converter?.appliedSetpointA ?? Number.NaN;
      expect(applied()).toBeGreaterThan(1);
      expect(applied()).toBeLessThan(6); // 20 A/s for less than 0.3 s
      bench.pass(1500);
      expect(applied()).toBe(0);
    });

    it('loads the live network while it makes safe, and leaves the plug locked', () => {
      const bench = fresh().charge(0);
      bench.order(bare('lock'), bare('make-safe'));
      expect(bench.report?.roles.isolation).toMatchObject({ point: 3, resistor: 1 });
      expect(bench.report?.roles.latch?.locked).toBe(1);
    });

    it('throws away a line that is too long, and reads the next', () => {
      const bench = fresh().hello('11111111');
      for (const line of ['', 'x'.repeat(2049), 'x'.repeat(7000)]) bench.write(line);
      expect(bench.order(bare('lock'))).toBe('done');
      expect(bench.report?.roles.device.rejectedFrames).toBe(3);
    });
  });

  describe('reference device: its parser under fire', () => {
    const FRAMES = 40_000;
    const seal = (text: string) => `${text}*${crcText(crc32c(text))}`;

    it('takes exactly what the codec takes, of frames damaged before and behind their check', () => {
      const random = new SeededRandom(4711);
      const lines = Array.from({ length: FRAMES }, () => damaged(random, seal));
      const { status, stdout, stderr } = spawnSync(checkedReferenceDevice().file, ['--judge'], {
        input: Buffer.from(lines.map((line) => `${line}\n`).join(''), 'latin1'),
        encoding: 'utf8',
        maxBuffer: 1 << 24,
      });
      expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
      const verdicts = stdout.trimEnd().split('\n');
      expect(verdicts).toHaveLength(FRAMES);
      const differs = lines.flatMap((line, i) => {
        const decoded = decodeToDevice(line);
        return (verdicts[i] === 'taken') === decoded.ok ? [] : [`${verdicts[i]}: ${line}`];
      });
      expect(differs).toEqual([]);
      // Every reason is met, and enough is taken for a false one to show.
      const counts = new Map<string, number>();
      for (const verdict of verdicts) counts.set(verdict, (counts.get(verdict) ?? 0) + 1);
      expect([...counts.keys()].sort()).toEqual([
        ...['bad-crc', 'bad-grammar', 'not-ascii', 'out-of-range', 'taken', 'too-long'],
        ...['unknown-role', 'unknown-verb', 'wrong-direction'],
      ]);
      expect(counts.get('taken')).toBeGreaterThan(FRAMES / 50);
    });

    it('energises nothing on babble, counts each line of it, and still hears the next frame', () => {
      const random = new SeededRandom(99);
      const trace = path.join(temporaryFolder(), 'trace');
      const frame = (seq: number, body: Parameters<typeof encodeToDevice>[2]) =>
        `${encodeToDevice('11111111', seq, body)}\n`;
      const hello = { verb: 'hello', version: 1, periodMs: 50, watchdogMs: 300 } as const;
      const babble = Buffer.from(Uint32Array.from({ length: 250_000 }, () => random.uint32()).buffer);
      babble[babble.length - 1] = 10;
      const input = Buffer.concat([
        Buffer.from(frame(1, { ...hello, maxCurrentA: 1, maxVoltageV: 1, roles: ['stop'] })),
        babble,
        Buffer.from(frame(2, { verb: 'feed', phase: 0 })),
        Buffer.from(frame(3, { verb: 'order', orders: [bare('close-p')] })),
      ]);
      const { status, stdout, stderr } = spawnSync(checkedReferenceDevice().file, ['-', '--trace', trace], {
        input,
        encoding: 'latin1',
      });
      // Its input ended with P closed: it went on by itself until nothing was energised.
      expect({ status, stderr }).toEqual({ status: 0, stderr: expect.stringMatching(/^Answering.*\n$/) });
      const poles = readFileSync(trace, 'utf8').match(/ p=\d/g);
      expect(poles?.indexOf(' p=1')).toBe(1);
      expect(poles?.slice(2)).not.toContain(' p=1');
      expect(readFileSync(trace, 'utf8')).not.toMatch(/converter=1| n=1|train=1/);
      const said: ToSupervisor[] = stdout
        .trimEnd()
        .split('\n')
        .map((line) => {
          const decoded = decodeToSupervisor(line);
          if (!decoded.ok) throw new Error(`${decoded.why}: ${line}`);
          return decoded.frame.body;
        });
      expect(said.filter((b) => b.verb === 'answer')).toEqual([
        { verb: 'answer', re: 3, answer: 'done', failed: null },
      ]);
      const reports = said.flatMap((b) => (b.verb === 'report' ? [b.roles.device] : []));
      const lines = babble.filter((byte) => byte === 10).length;
      expect(reports.at(-1)).toMatchObject({ latched: 1, rejectedFrames: lines % 65536 });
    });
  });
});

/** A line that was a sound frame, or is one: most lose their check, half get it back behind the damage. */
function damaged(random: SeededRandom, seal: (text: string) => string): string {
  const below = (n: number): number => random.uint32() % n;
  const pick = <T>(of: readonly T[]): T => of[below(of.length)] as T;
  const { nonce, seq, body } = pick(TO_DEVICE);
  const vector = encodeToDevice(nonce, seq, body);
  if (below(20) === 0) return vector;
  let text = vector.slice(0, -9);
  for (let k = below(3); k >= 0; k--) {
    const at = below(text.length + 1);
    const piece = pick([
      ...[' ', ':', ',', '*', '-', '0', '9', '-0', '00', 'r9', 'dv', 'xx', 'ph', '99', '4294967296', '', ''],
      ...['cv:set,1,2', ' ct:open-p', 'on', '>', '<', 'q'.repeat(33), ',1,2,3,4,5,6,7,8', 'z'],
    ]);
    const hit = random.unit();
    if (hit < 0.3) text = text.slice(0, at) + piece + text.slice(at);
    else if (hit < 0.6) text = text.slice(0, at) + piece + text.slice(at + 1 + below(3));
    else if (hit < 0.75) text = text.slice(0, at) + String.fromCharCode(32 + below(95)) + text.slice(at + 1);
    else if (hit < 0.8) text = text.slice(0, at) + String.fromCharCode(11 + below(245)) + text.slice(at + 1);
    else if (hit < 0.82) text += pick(['y', ' ct:open-p']).repeat(2000 / (1 + below(12)));
    else if (hit < 0.9) text = text.replace(/\d+/g, (n) => (below(3) === 0 ? String(below(70_000)) : n));
    else
      text = text.replace(/[a-z-]+/g, (w) => (below(4) === 0 ? pick(['open', 'feed', 'cv', 'r', 'r2']) : w));
  }
  if (random.unit() < 0.7) return seal(text);
  return random.unit() < 0.5 ? text + vector.slice(-9) : text;
}
