/** `loopwarden fit`: parameters from recordings, for rigs. */
import type { Command } from 'commander';
import { addFitRaft } from './fit-raft.js';

export function addFit(program: Command): void {
  const fit = program
    .command('fit')
    .description('parameters for a rig from your own recordings (CSV with a header row): raft');
  addFitRaft(fit);
}
