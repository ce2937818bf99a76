/** Where in the rig things are: ports of roles, names of rafts, time of a sample, resistance of a raft. */
import type { AssignableRole } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Observation } from './check.js';

/** Index of the port that serves a role; -1 when none does. `raft` counts from 0. */
export function portOf(rig: Rig, role: AssignableRole, raft?: number): number {
  return rig.link.ports.findIndex((port) =>
    port.roles.some((served) => served === role || (raft !== undefined && served === `raft${raft + 1}`)),
  );
}

/**
 * Time of the newest sample of a role on the device's own clock, ms: free of the jitter of the link. Only
 * differences mean anything. Falls back to the session clock when the device clock cannot be read.
 */
export function sampleMs(seen: Observation, rig: Rig, role: AssignableRole): number {
  const clockMs = seen.device[portOf(rig, role)]?.value.clockMs;
  return clockMs !== undefined && Number.isFinite(clockMs) ? clockMs : seen.nowMs;
}

/** One report period and the answer before it: how late a reading of an obeyed order may be. */
export const reportMarginMs = (rig: Rig): number => 2 * rig.link.periodMs + 50;

export const raftName = (rig: Rig, raft: number): string =>
  rig.battery.rafts[raft]?.name ?? `raft-${raft + 1}`;
export const isBattery = (rig: Rig, raft: number): boolean => rig.battery.rafts[raft]?.kind === 'battery';

/** How much higher a cell's resistance is at `cellC` than at 25 °C; 1 when warm or unreadable. */
export function coldFactor(rig: Rig, cellC: number): number {
  const below = 25 - cellC;
  return below > 0 ? 2 ** (below / rig.battery.raft.cell.coldDoublingK) : 1;
}

/** Resistance of one raft at the first instant (no diffusion yet): what limits a joining current. */
export function raftOhm(rig: Rig, cellC: number): number {
  const { cell, seriesCells, parallelCells, barsOhm } = rig.battery.raft;
  return (cell.r0Ohm * coldFactor(rig, cellC) * seriesCells) / parallelCells + barsOhm;
}

/** Indices of the rafts that report themselves joined. */
export const joinedRafts = (seen: Observation): readonly number[] =>
  seen.rafts.flatMap((raft, index) => (raft !== null && raft.value.joined === 1 ? [index] : []));
