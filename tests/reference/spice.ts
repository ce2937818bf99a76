/**
 * One circuit engine for a whole test file (starting it takes longer than most runs), and a transient run
 * read at even spacing. Netlists are SPICE text; nothing of ours takes part in solving them.
 */
import { Simulation } from 'eecircuit-engine';

let shared: Promise<Simulation> | null = null;

/** Runs go one after the other: the engine holds one circuit at a time. */
let last: Promise<unknown> = Promise.resolve();

async function engine(): Promise<Simulation> {
  shared ??= (async () => {
    const simulation = new Simulation();
    await simulation.start();
    return simulation;
  })();
  return shared;
}

export interface Transient {
  readonly timeS: Float64Array;
  /** By the engine's name in lower case, e.g. `v(out)`, `i(v1)`. */
  of(name: string): Float64Array;
}

/** @param netlist with its `.tran` line, without title and `.end` @throws when the engine reports none */
export async function transient(netlist: string): Promise<Transient> {
  const run = last.then(async () => {
    const simulation = await engine();
    simulation.setNetList(`reference circuit\n${netlist}\n.end\n`);
    const made = await simulation.runSim();
    // A run that was given up still hands over the rows it had made until then.
    const gaveUp = simulation.getError().find((line) => line.includes('aborted'));
    if (gaveUp !== undefined)
      throw new Error(`the circuit engine gave up: ${simulation.getError().join(' ')}`);
    return made;
  });
  last = run.catch(() => undefined);
  const result = await run;
  if (result.dataType !== 'real') throw new Error('the circuit engine gave no transient');
  const columns = new Map(result.data.map((d) => [d.name.toLowerCase(), Float64Array.from(d.values)]));
  const of = (name: string): Float64Array => {
    const column = columns.get(name.toLowerCase());
    if (column === undefined) throw new Error(`no ${name} in ${[...columns.keys()].join(', ')}`);
    return column;
  };
  return { timeS: of('time'), of };
}

/** Linear reading of a transient at given times; the engine's own steps are uneven. */
export function readAt(timeS: Float64Array, values: Float64Array, atS: ArrayLike<number>): Float64Array {
  let k = 0;
  return Float64Array.from({ length: atS.length }, (_, n) => {
    const t = atS[n]!;
    while (k + 2 < timeS.length && timeS[k + 1]! < t) k++;
    const t0 = timeS[k]!;
    const t1 = timeS[k + 1]!;
    const share = t1 > t0 ? (t - t0) / (t1 - t0) : 0;
    return values[k]! + share * (values[k + 1]! - values[k]!);
  });
}
