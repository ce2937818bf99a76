/**
 * What the firmware has ordered of its plant and still holds: coils, relays, references. The device judges
 * itself energised by this, not by sensors, which may lie.
 */
import type { Order } from '../../src/rig/orders.js';
import type { Plant } from '../plant.js';

export class Outputs {
  converterOn = false;
  coilP = false;
  coilN = false;
  coilPre = false;
  trainClosed = false;
  bleedOutput = false;
  bleedPlug = false;

  constructor(private readonly plant: Plant) {}

  /** Something this port holds can put or keep a voltage where people are. */
  get energised(): boolean {
    return this.converterOn || this.coilP || this.coilN || this.coilPre || this.trainClosed;
  }

  get chargerClosed(): boolean {
    return this.coilP || this.coilN || this.coilPre;
  }

  apply(order: Order): void {
    switch (order.name) {
      case 'enable-converter':
        this.converterOn = true;
        break;
      case 'disable-converter':
        this.converterOn = false;
        break;
      case 'close-p':
      case 'open-p':
        this.coilP = order.name === 'close-p';
        break;
      case 'close-n':
      case 'open-n':
        this.coilN = order.name === 'close-n';
        break;
      case 'close-pre':
      case 'open-pre':
        this.coilPre = order.name === 'close-pre';
        break;
      case 'close-train':
      case 'open-train':
        this.trainClosed = order.name === 'close-train';
        break;
      case 'bleed-output':
        this.bleedOutput = order.args.on === 1;
        break;
      case 'bleed-plug':
        this.bleedPlug = order.args.on === 1;
        break;
      default:
        break;
    }
    this.plant.apply(order);
  }
}
