/** `loopwarden chart`: the machine, drawn from the machine itself. */
import type { Command } from 'commander';
import { mermaidChart } from '../supervisor/chart.js';
import { say } from './print.js';

export function addChart(program: Command): void {
  program
    .command('chart')
    .description('the session machine as a Mermaid state diagram, drawn from the machine itself')
    .action(() => say(mermaidChart()));
}
