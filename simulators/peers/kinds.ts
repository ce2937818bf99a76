/** Which simulated instrument stands for which command map. */

import type { PeerKind } from './peer.js';
import { scpiMeter } from './scpi-meter.js';
import { scpiSource } from './scpi-source.js';

/** By what the map speaks and which role it serves. */
export const PEERS: Readonly<Record<string, PeerKind>> = {
  'scpi converter': scpiSource,
  'scpi meter': scpiMeter,
};
