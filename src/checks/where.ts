/** Where in the rig things are: ports of roles, names of rafts, time of a sample, resistance of a raft. */
import { type AssignableRole, MAX_RAFTS } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';
import type { Observation } from './check.js';
import { perRig } from './per-rig.js';

/** First port that serves each role, by the names a rig may write. */
const firstPorts = perRig((rig) => {
  const ports = new Map<string, number>();
  rig.link.ports.forEach((port, index) => {
    for (const served of port.roles) if (!ports.has(served)) ports.set(served, index);
  });
  return ports;
});
const RAFT_NAMES = Array.from({ length: MAX_RAFTS }, (_, raft) => `raft${raft + 1}`);

/** Index of the port that serves a role; -1 when none does. `raft` counts from 0. */
export function portOf(rig: Rig, role: AssignableRole, raft?: number): number {
  const ports = firstPorts(rig);
  const whole = ports.get(role) ?? -1;
  const single = raft === undefined ? -1 : (ports.get(RAFT_NAMES[raft] ?? '') ?? -1);
  return whole < 0 || single < 0 ? Math.max(whole, single) : Math.min(whole, single);
}

/**
 * Time of the newest sample of a role on the device's own clock, ms: free of the jitter of the link. Only
 * differences mean anything. Falls back to the session clock when the device clock cannot be read.
 */
export function sampleMs(seen: Observation, rig: Rig, role: AssignableRole): number {
  const clockMs = seen.device[portOf(rig, role)]?.value.clockMs ?? Number.NaN;
  return Number.isFinite(clockMs) ? clockMs : seen.nowMs;
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

/** Indices of the rafts that report themselves joined; an observation carries them as `joined`. */
export function joinedOf(rafts: Observation['rafts']): readonly number[] {
  const joined: number[] = [];
  for (let raft = 0; raft < rafts.length; raft++) if (rafts[raft]?.value.joined === 1) joined.push(raft);
  return joined;
}
