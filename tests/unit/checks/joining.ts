/** Rafts before they join: the train is closed, nobody is on its bus. */
import { rafts } from '../../../src/checks/rafts.js';
import { Run, Scene } from './build.js';

/** @param packV of each raft, V */
export function joining(...packV: number[]) {
  const scene = new Scene().charging(0, 'joining-train');
  scene.ordered.raftJoined = scene.rafts.map(() => false);
  for (const [i, r] of scene.rafts.entries()) Object.assign(r, { joined: 0, packV: packV[i] ?? 720 });
  scene.train.trainV = 0;
  return new Run(rafts, scene);
}
