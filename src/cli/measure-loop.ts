/** `loopwarden measure loop`: what a recorded pilot current proves about the loop. */
import type { Command } from 'commander';

export function addMeasureLoop(measure: Command): void {
  measure.command('loop').description('series and shunt resistance of the pilot loop from its current');
}
