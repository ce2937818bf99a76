/** The fault box as its document says: one order, one answer, and what it cannot make it says. */
import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { answerOfBox } from '../../simulators/fault-box.js';
import { VirtualClock } from '../../simulators/virtual-clock.js';
import { World } from '../../simulators/world.js';
import { MemoryLink } from '../../src/link/memory.js';
import { FAULT_BOX, FAULT_BOX_BAUD, FaultBox } from '../../src/prove/fault-box.js';
import { loadRig } from '../../src/rig/load.js';

const { rig } = loadRig('depot-cable');
const world = () => new World({ rig, seed: 1, proving: { relays: {} } });

/** A box at the far end of a line, and what it was asked. */
async function boxed(answer: (line: string) => string | null) {
  const clock = new VirtualClock();
  const link = new MemoryLink({ clock, port: FAULT_BOX, baud: FAULT_BOX_BAUD });
  const asked: string[] = [];
  link.far.listen((line) => {
    asked.push(line);
    const back = answer(line);
    if (back !== null) link.far.send(back);
  });
  const box = new FaultBox(link, clock);
  /** Lets virtual time pass until it is settled. */
  const until = async <T>(wanted: Promise<T>): Promise<T> => {
    let settled = false;
    const mark = wanted.finally(() => {
      settled = true;
    });
    mark.catch(() => {});
    for (let k = 0; k < 200 && !settled; k++) {
      await new Promise((resolve) => setImmediate(resolve));
      clock.runUntil(clock.nowMs() + 10);
    }
    return mark;
  };
  return { box, asked, until };
}

describe('the simulated box', () => {
  it.each([
    ['box?', 'box 1 lw-sim 0001'],
    ['make loop-open', 'made loop-open'],
    ['make loop-crush 300', 'made loop-crush'],
    ['make contactor-weld - n', 'made contactor-weld'],
    ['make no-such-fault', 'cannot unknown-fault'],
    ['make toString', 'cannot unknown-fault'],
    ['make loop-crush many', 'cannot bad-magnitude'],
    ['make loop-crush 1 ../x', 'cannot bad-part'],
    ['make loop-crush 1 p n', 'cannot unknown-order'],
    ['open everything', 'cannot unknown-order'],
    ['', 'cannot unknown-order'],
  ])('%s: %s', (line, answer) => {
    expect(answerOfBox(line, world())).toBe(answer);
  });

  it('makes what it says, and takes it back', () => {
    const bench = world();
    answerOfBox('make stop-pressed', bench);
    bench.advanceTo(100);
    expect(bench.read('stop').buttonPressed).toBe(1);
    answerOfBox('clear', bench);
    bench.advanceTo(200);
    expect(bench.read('stop')).toMatchObject({ buttonPressed: 0, chainClosed: 1 });
  });

  it('resets a relay that has opened, and tells of it by the time of its mark', () => {
    const bench = world();
    bench.advanceTo(50);
    answerOfBox('make stop-pressed', bench);
    bench.advanceTo(100);
    const events = bench.takeEvents();
    expect(events.map((e) => e.kind)).toEqual(['mark', 'relay']);
    expect((events[1]?.atMs ?? 0) - (events[0]?.atMs ?? 0)).toBe(8);
    answerOfBox('clear', bench);
    // Without pilot current the pilot relay would drop the coil again.
    bench.apply({ name: 'pilot', args: { on: 1 } });
    bench.advanceTo(300);
    bench.apply({ name: 'close-p', args: {} });
    bench.advanceTo(500);
    expect(bench.read('contactor').closedP).toBe(1);
  });
});

describe('whoever speaks to a box', () => {
  it('asks who it is, then one order at a time', async () => {
    const { box, asked, until } = await boxed((line) => answerOfBox(line, world()));
    expect(await until(box.open())).toBe('lw-sim 0001');
    const made = Promise.all([
      box.make({ fault: 'loop-crush', magnitude: 300 }),
      box.make({ fault: 'loop-open', part: 'p' }),
    ]);
    expect(await until(made)).toEqual([null, null]);
    expect(await until(box.clear())).toBe(true);
    expect(asked).toEqual(['box?', 'make loop-crush 300', 'make loop-open - p', 'clear']);
  });

  it('takes nothing else for a box', async () => {
    const wrong = await boxed(() => 'login:');
    await expect(wrong.until(wrong.box.open())).rejects.toThrow(
      "'login:' answers there; expected a fault box",
    );
    const silent = await boxed(() => null);
    await expect(silent.until(silent.box.open())).rejects.toThrow('nothing answers there');
  });

  it('tells what it cannot make, and takes silence for no', async () => {
    const { box, until } = await boxed((line) =>
      line.startsWith('make') ? 'cannot worn-relay' : line === 'clear' ? null : 'box 1 a b',
    );
    await until(box.open());
    expect(await until(box.make({ fault: 'loop-open' }))).toBe('the fault box: cannot worn-relay');
    expect(await until(box.clear())).toBe(false);
  });
});

it('is documented with every order it knows', () => {
  const document = readFileSync('config/procedures/FAULT-BOX.md', 'utf8');
  for (const order of ['box?', 'make <fault>', 'clear']) expect(document).toContain(`\`${order}`);
  expect(document).toContain(String(FAULT_BOX_BAUD));
});
