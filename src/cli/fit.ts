/** `loopwarden fit`: parameters from recordings and recorded sessions, for rigs. */
import type { Command } from 'commander';
import { addFitRaft } from './fit-raft.js';
import { addFitRig } from './fit-rig.js';

export function addFit(program: Command): void {
  const fit = program
    .command('fit')
    .description(
      'parameters for a rig: from your own recordings (CSV with a header row) or recorded sessions',
    );
  addFitRaft(fit);
  addFitRig(fit);
}
