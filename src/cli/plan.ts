/** `loopwarden plan`: does it add up: one stop, a route, a day of several trains. */
import type { Command } from 'commander';
import { addPlanDay } from './plan-day.js';
import { addPlanRoute } from './plan-route.js';
import { addPlanStop } from './plan-stop.js';

export function addPlan(program: Command): void {
  const plan = program
    .command('plan')
    .description('does it add up: a stop, a route, a day of several trains');
  addPlanStop(plan);
  addPlanRoute(plan);
  addPlanDay(plan);
}
