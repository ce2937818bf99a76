/** Everything a request could have changed, as one text: two that are equal mean that nothing happened. */
import type { Desk } from './desk.js';

export function effectsOf(desk: Desk): string {
  const { bench, context } = desk;
  const { control, people, watch } = context;
  return JSON.stringify({
    running: bench.running,
    phase: bench.session?.phase ?? null,
    tripped: bench.session?.tripped ?? null,
    ended: watch.ended,
    // Whatever reached the stand, and with it the journal.
    calls: desk.calls,
    latch: bench.latch,
    speed: bench.speed,
    faults: bench.made,
    world: worldNumber(bench.world),
    nowMs: bench.clock.nowMs(),
    people: people.list,
    holder: control.holder,
    offeredTo: control.offeredTo,
    // What was asked for in vain is told; everything else that is told is an effect.
    events: watch.events.after(0, 1e9).filter((e) => e.kind !== 'refusal').length,
  });
}

const WORLDS = new WeakMap<object, number>();
let worlds = 0;
function worldNumber(world: object): number {
  const known = WORLDS.get(world);
  if (known !== undefined) return known;
  WORLDS.set(world, ++worlds);
  return worlds;
}
