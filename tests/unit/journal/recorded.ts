/** A session in virtual time whose journal stays in memory. */
import { filesInMemory } from '../../../src/host/durable-file.js';
import { runVirtual, type VirtualRun, type VirtualRunOptions } from '../../../src/rehearsal/virtual-run.js';

type Scenario = VirtualRunOptions['scenario'];

export async function recorded(
  options: Pick<VirtualRunOptions, 'loaded' | 'signing' | 'order' | 'checks'> & {
    readonly scenario: Pick<Scenario, 'seed' | 'wish'> & Partial<Scenario>;
  },
): Promise<VirtualRun & { readonly text: string }> {
  let text = '';
  const run = await runVirtual({
    ...options,
    scenario: { start: {}, inject: [], orders: [], ...options.scenario },
    stateDir: 'memory',
    latchFiles: filesInMemory(),
    journalPath: 'journal',
    sink: {
      append: (more) => {
        text += more;
      },
      close: async () => {},
    },
  });
  return { ...run, text };
}
