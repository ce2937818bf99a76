/** Which simulated instrument stands for which command map. */

import { modbusModule } from './modbus-module.js';
import type { PeerKind } from './peer.js';
import { scpiMeter } from './scpi-meter.js';
import { scpiSource } from './scpi-source.js';

/** By what the map speaks and which role it serves. */
export const PEERS: Readonly<Record<string, PeerKind>> = {
  'scpi converter': scpiSource,
  'scpi meter': scpiMeter,
  'modbus converter': modbusModule,
};
