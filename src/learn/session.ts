/** What one journal tells of its rig: audited as it is read, boiled down to figures that can be kept by the thousand. */
import { Audit } from '../audit/audit.js';
import type { Entry } from '../audit/entry.js';
import type { Values } from '../audit/line-reader.js';
import { pieces } from '../host/big-file.js';
import { SOFTWARE } from '../host/version.js';
import { cableLoopOhm } from '../rig/ratings.js';
import type { Rig } from '../rig/schema.js';
import { Heating, type HeatingFound } from './heating.js';
import { RaftResistance } from './raft-resistance.js';
import { type SupplyFound, SupplyResponse } from './supply-response.js';
import type { Told } from './told.js';

export interface RaftFound {
  readonly raft: string;
  /** On all resistances of its cells. */
  readonly factor: Told;
}

export interface SessionFound {
  readonly file: string;
  readonly rig: string;
  readonly rigHash: string;
  /** As journaled: what the figures are held against. */
  readonly figures: Rig;
  /** Last seal: a copy has the same. */
  readonly head: string;
  readonly wallMs: number;
  readonly rehearsal: boolean;
  readonly rafts: readonly RaftFound[];
  readonly cable: HeatingFound;
  readonly contact: HeatingFound;
  readonly supply: SupplyFound;
}

export interface LeftOut {
  readonly file: string;
  readonly why: string;
}

/** Follows the received lines of one session. */
export class Learner {
  readonly #rafts: { readonly key: string; readonly name: string; readonly of: RaftResistance }[];
  readonly #cable: Heating;
  readonly #contact: Heating;
  readonly #supply: SupplyResponse;
  #meterSample = Number.NaN;

  constructor(readonly rig: Rig) {
    this.#rafts = rig.battery.rafts.flatMap(({ name, kind }, i) =>
      kind === 'battery' ? [{ key: `raft${i + 1}`, name, of: new RaftResistance(rig, name) }] : [],
    );
    this.#cable = new Heating(rig.connection.cable, 'cable conductor');
    this.#contact = new Heating(rig.connection.contact, 'contact');
    this.#supply = new SupplyResponse(rig);
  }

  /** @param roles of one received report */
  take(tS: number, roles: ReadonlyMap<string, Values>): void {
    for (const { key, of } of this.#rafts) {
      const value = roles.get(key);
      if (value !== undefined) of.take(tS, value);
    }
    const meter = roles.get('meter');
    if (meter !== undefined) this.#meter(tS, meter);
    const supply = roles.get('supply');
    if (supply !== undefined) this.#supply.take(tS, supply);
  }

  #meter(tS: number, value: Values): void {
    if (value.sample === this.#meterSample) return;
    this.#meterSample = value.sample ?? Number.NaN;
    const { currentA = Number.NaN, cableC = Number.NaN, contactC = Number.NaN } = value;
    const { cable, contact } = this.rig.connection;
    const squareA2 = currentA * currentA;
    this.#cable.take(tS, cableC, squareA2 * cableLoopOhm(cable, cableC));
    this.#contact.take(tS, contactC, squareA2 * contact.resistanceOhm);
  }

  get result(): Pick<SessionFound, 'rafts' | 'cable' | 'contact' | 'supply'> {
    return {
      rafts: this.#rafts.map(({ name, of }) => ({ raft: name, factor: of.result })),
      cable: this.#cable.result,
      contact: this.#contact.result,
      supply: this.#supply.result,
    };
  }
}

/** Never throws: whatever is wrong with a file is why it is left out. */
export function readSession(file: string): SessionFound | LeftOut {
  try {
    return foundIn(file, pieces(file));
  } catch (error) {
    return { file, why: error instanceof Error ? error.message : String(error) };
  }
}

/** @param of its bytes, cut anywhere */
export function foundIn(file: string, of: Iterable<Buffer>): SessionFound | LeftOut {
  let learner: Learner | null = null;
  const look = ({ k, b, tMs, line }: Entry): void => {
    if (k === 'rig') learner ??= new Learner(b.rig as Rig);
    else if (line?.verb === 'report') learner?.take(tMs / 1000, line.roles);
  };
  const audit = new Audit({ software: SOFTWARE, replay: false, look });
  for (const piece of of) audit.feed(piece);
  const { intact, row, damage, header, head, trip } = audit.end();
  const known = learner as Learner | null;
  if (!intact || header === null || known === null)
    return { file, why: `${row}${damage.length > 0 ? `: ${damage[0]}` : ''}` };
  if (trip !== null) return { file, why: `it tripped (${trip.code}): that tells of a fault, not of the rig` };
  const { rig, rigHash, wallMs, clock } = header;
  return {
    ...{ file, rig, rigHash, head, wallMs, rehearsal: clock !== 'real' },
    ...{ figures: known.rig, ...known.result },
  };
}
