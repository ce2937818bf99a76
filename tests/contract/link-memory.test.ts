import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SeededRandom } from '../../simulators/seeded-random.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { LineGuard } from '../../src/link/guard.js';
import { MAX_LINE_BYTES } from '../../src/link/link.js';
import { MemoryLink, NO_TROUBLE, type Trouble } from '../../src/link/memory.js';
import { ears, linkContract } from './link.contract.js';

const make = (trouble: Trouble = NO_TROUBLE, seed = 1) => {
  const clock = new VirtualClock();
  const link = new MemoryLink({
    clock,
    port: 'main',
    baud: 115200,
    random: new SeededRandom(seed),
    trouble: () => trouble,
  });
  const received: string[] = [];
  link.far.listen((line) => received.push(line));
  return { clock, link, received };
};

linkContract(
  'memory on a virtual clock',
  async () => {
    const { clock, link, received } = make();
    // The memory link moves lines; pieces are put together as a device would.
    let piece = '';
    const pass = async (ms: number): Promise<void> => {
      clock.runUntil(clock.nowMs() + ms);
      await Promise.resolve();
    };
    return {
      link,
      received,
      inject: (bytes) => {
        const parts = (piece + bytes).split('\n');
        piece = parts.pop() as string;
        for (const line of parts) link.far.send(line);
      },
      pass,
      cut: () => link.cut('the cable was pulled'),
      end: () => link.close(),
    };
  },
  async () => {
    const { link } = make();
    link.cut('nothing is connected');
    return link;
  },
);

describe('memory link', () => {
  it('takes the time the baud rate needs', async () => {
    const { clock, link, received } = make();
    await link.open(ears().events);
    link.send('x'.repeat(99)); // 100 bytes with the terminator: 8.68 ms
    link.send('y');
    clock.runUntil(8.6);
    expect(received).toHaveLength(0);
    clock.runUntil(8.7);
    expect(received).toHaveLength(1);
    clock.runUntil(8.9);
    expect(received).toHaveLength(2);
  });

  it('can be restored after a cut', async () => {
    const { clock, link, received } = make();
    const first = ears();
    await link.open(first.events);
    link.send('lost on the way');
    link.cut('pulled');
    expect(first.downs).toEqual(['pulled']);
    link.restore();
    await link.open(ears().events);
    link.send('new');
    clock.runUntil(100);
    expect(received).toEqual(['new']);
    expect(link.generation).toBe(2);
  });

  it('drops, corrupts, duplicates and delays as told, the same for the same seed', async () => {
    const trouble = {
      dropShare: 0.1,
      corruptShare: 0.1,
      duplicateShare: 0.1,
      delayShare: 0.1,
      delayMaxMs: 50,
    };
    const run = async (seed: number) => {
      const { clock, link, received } = make(trouble, seed);
      await link.open(ears().events);
      for (let i = 0; i < 500; i++) {
        link.send(`line ${i}`);
        clock.runUntil(clock.nowMs() + 2);
      }
      clock.runUntil(clock.nowMs() + 1000);
      return received;
    };
    const once = await run(7);
    expect(await run(7)).toEqual(once);
    expect(await run(8)).not.toEqual(once);
    const whole = once.filter((l) => /^line \d+$/.test(l));
    expect(new Set(whole).size).toBeLessThan(470);
    expect(whole.length).toBeGreaterThan(new Set(whole).size);
    expect(once.length).toBeGreaterThan(400);
  });
});

describe('line guard', () => {
  const collect = (chunks: string[]) => {
    const guard = new LineGuard(MAX_LINE_BYTES);
    const out: string[] = [];
    guard.on('data', (b: Buffer) => out.push(b.toString('latin1')));
    for (const chunk of chunks) guard.write(Buffer.from(chunk, 'latin1'));
    return { guard, out };
  };

  it('passes on lines whole, however they are cut up', () => {
    expect(collect(['a', 'b\nc', '\n\nd']).out).toEqual(['ab\n', 'c\n', '\n']);
  });

  it('gives the same lines however the bytes are cut and joined, noise and all', () => {
    const bytes = fc.oneof(
      fc.stringMatching(/^[ -~]{0,80}\n$/),
      fc.uint8Array({ maxLength: 60 }).map((noise) => Buffer.from(noise).toString('latin1')),
    );
    fc.assert(
      fc.property(
        fc.array(bytes, { maxLength: 30 }),
        fc.array(fc.nat(40), { minLength: 1 }),
        (parts, cuts) => {
          const stream = parts.join('');
          const pieces: string[] = [];
          for (let at = 0, k = 0; at < stream.length; k++) {
            const length = 1 + (cuts[k % cuts.length] as number);
            pieces.push(stream.slice(at, at + length));
            at += length;
          }
          expect(collect(pieces).out).toEqual(collect([stream]).out);
          // What ends in a line feed comes out, and nothing else does.
          const whole = stream.split('\n').slice(0, -1);
          expect(collect(pieces).out).toEqual(whole.map((line) => `${line}\n`));
        },
      ),
    );
  });

  it('never holds more than one line, and drops a run without an end', () => {
    const { guard, out } = collect([...new Array(1000).fill('x'.repeat(1000)), '\nok\n']);
    expect(out).toEqual(['ok\n']);
    expect(guard.dropped).toEqual({ lines: 1, bytes: 1_000_001 });
  });

  it('takes a line of exactly the bound and not one more', () => {
    expect(collect([`${'x'.repeat(MAX_LINE_BYTES)}\n`]).guard.dropped.lines).toBe(0);
    const over = collect([`${'x'.repeat(MAX_LINE_BYTES)}`, 'x', '\n', 'y\n']);
    expect(over.guard.dropped.lines).toBe(1);
    expect(over.out).toEqual(['y\n']);
  });
});
