/** `loopwarden plan`: is a stop long enough, and what would make it so. */
import type { Command } from 'commander';
import { addPlanStop } from './plan-stop.js';

export function addPlan(program: Command): void {
  const plan = program.command('plan').description('planning: a stop');
  addPlanStop(plan);
}
