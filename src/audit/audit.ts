/**
 * One pass over a journal: is the record intact, were the decisions right, did any invariant break, what came first,
 * how near was each limit, what was proven, asked, refused and delivered. Memory is bounded whatever the size.
 */
import { createHash } from 'node:crypto';
import type { InvariantId } from '../../machines/invariant-list.js';
import { oddBody } from '../journal/bodies.js';
import { Chain } from '../journal/chain.js';
import type { ClockBody, JournalHeader, JournalRecord } from '../journal/format.js';
import type { Verifier } from '../journal/keys.js';
import { RecordReader } from '../journal/reader.js';
import { Outline, RECOVERY, type RecoveryRow, rowOf } from '../journal/recovery.js';
import { canonicalJson } from '../rig/canonical-json.js';
import type { Rig } from '../rig/schema.js';
import { machineHash } from '../supervisor/decide.js';
import type { Outcome, Refusal, TripRecord } from '../supervisor/outcome.js';
import { type ClockStep, ClockSteps } from './clock-steps.js';
import { type Entry, entryOf } from './entry.js';
import { type AuditEvent, Events } from './events.js';
import { EnergyLedger, type Extreme, Extremes } from './extremes.js';
import { type FirstOut, FirstOutFinder } from './first-out.js';
import { type Breach, Judge } from './judge.js';
import { type Margin, Margins, type ProofMade } from './margins.js';
import { type OrderDone, OrderDoneFinder } from './order-done.js';
import type { Picture } from './picture.js';
import { againstPlan, type PlannedFigure } from './planned.js';
import { type Divergence, type Looker, Replay } from './replay.js';

export interface AuditOptions {
  readonly verifier?: Verifier | null;
  /** A seal noted elsewhere that the journal must contain. */
  readonly head?: string | null;
  /** Version of this program. */
  readonly software: string;
  /** False: nothing is decided anew, which takes most of the time; there are then no margins and no proofs. */
  readonly replay?: boolean;
  /** Sees each record as it is read, for plots. */
  look?(entry: Entry): void;
  /** Sees what each check says in each step that is decided anew, for plots of what is in no record. */
  readonly judged?: Looker;
  /** Sees each margin as it becomes the nearest so far. What was read up to then it has been shown by `look`. */
  nearer?(margin: Margin): void;
}

export interface AuditResult {
  readonly row: RecoveryRow;
  readonly intact: boolean;
  /** What is wrong with the record, in words. */
  readonly damage: readonly string[];
  readonly signed: 'no' | 'not-checked' | 'valid' | 'invalid';
  readonly key: string | null;
  readonly head: string;
  readonly headMet: boolean | null;
  readonly records: number;
  readonly seals: number;
  /** Bytes after the last seal: nothing vouches for them. */
  readonly unsealedBytes: number;
  readonly header: JournalHeader | null;
  /** null: it could not be decided anew, or was not to be. */
  readonly diverged: boolean | null;
  readonly divergence: Divergence | null;
  /** Why decisions could not be held against this program. */
  readonly notReplayed: string | null;
  readonly invariantsBroken: readonly InvariantId[];
  readonly breaches: readonly Breach[];
  readonly firstOut: FirstOut | null;
  readonly events: readonly AuditEvent[];
  /** Events beyond those kept. */
  readonly eventsLeftOut: number;
  readonly margins: readonly Margin[];
  readonly extremes: readonly Extreme[];
  readonly proofs: readonly ProofMade[];
  readonly refusals: readonly Refusal[];
  readonly trip: TripRecord | null;
  readonly outcome: Omit<Outcome, 'journal'> | null;
  /** An order that starts no session was carried out; its outcome then says `refused`, and nothing was. */
  readonly carriedOut: OrderDone | null;
  /** Codes the supervisor only observed for a time, while a hard-wired protection was proven; null in every other session. */
  readonly observing: Picture['observing'] | null;
  /** What a plan expected of the session beside what came; null without one. */
  readonly planned: readonly PlannedFigure[] | null;
  readonly energy: Energy | null;
  readonly clockSteps: readonly ClockStep[];
}

export interface Energy {
  /** As the session told it, and as integrated anew from the received lines. */
  readonly toldKwh: number | null;
  readonly toBatteryKwh: number;
  readonly fromSupplyKwh: number;
  readonly lossesKwh: {
    readonly converter: number;
    readonly cableAndContacts: number;
    readonly train: number;
  };
}

export class Audit {
  readonly #chain: Chain;
  readonly #reader: RecordReader;
  readonly #found = new Outline();
  readonly #judge = new Judge();
  readonly #margins: Margins;
  readonly #replay: Replay | null;
  readonly #events = new Events();
  readonly #extremes = new Extremes();
  readonly #ledger = new EnergyLedger();
  readonly #orderDone = new OrderDoneFinder();
  readonly #firstOut = new FirstOutFinder();
  readonly #clock = new ClockSteps();
  readonly #refusals: Refusal[] = [];
  #rigSeen = false;
  #foreign: string | null = null;
  #outcome: Omit<Outcome, 'journal'> | null = null;
  #trip: TripRecord | null = null;
  /** What a damaged record made impossible, from the first failure on. */
  #unjudged: string | null = null;
  #unreplayed: string | null = null;

  constructor(private readonly options: AuditOptions) {
    this.#margins = new Margins((margin) => options.nearer?.(margin));
    this.#chain = new Chain(options.verifier ?? null, options.head ?? null);
    this.#replay =
      options.replay === false
        ? null
        : new Replay((check, said, seen) => {
            this.#margins.take(check.name, said, seen);
            options.judged?.(check, said, seen);
          });
    this.#reader = new RecordReader((record, raw) => this.#take(record, raw));
  }

  /** Raw bytes, cut anywhere. */
  feed(piece: Buffer): void {
    this.#chain.feed(piece);
    this.#reader.feed(piece);
  }

  #take(record: JournalRecord, raw: string): void {
    this.#found.take(record);
    // A record that is not as the program writes them may break whoever reads its body; that is told, once.
    this.#unreplayed ??= whyNot(() => this.#replay?.take(record, raw), record.n);
    this.#unjudged ??= whyNot(() => this.#read(record), record.n);
  }

  #read(record: JournalRecord): void {
    // Told, and then left out: nothing behind it has to be ready for anything.
    const odd = oddBody(record.k, record.b);
    if (odd !== null) {
      this.#foreign ??= `record ${record.n}: ${odd}`;
      return;
    }
    const entry = entryOf(record);
    this.#judge.entry(entry);
    const { k, b, tMs } = entry;
    if (k === 'rig' && !this.#rigSeen) {
      this.#rigSeen = true;
      this.#foreign ??= this.#otherRig(b.rig);
    }
    // The judge keeps the readings; they are looked at, not kept a second time.
    if (this.#judge.picture !== null) this.#ledger.take(entry, this.#judge.picture);
    this.#extremes.take(entry);
    this.#events.take(entry);
    this.#firstOut.take(entry);
    this.#orderDone.take(entry);
    if (k === 'clock') this.#clock.take(tMs, b as ClockBody);
    else if (k === 'refusal' && this.#refusals.length < MOST_REFUSALS) this.#refusals.push(b as Refusal);
    // What comes a second time was not written by a session.
    else if (k === 'trip') this.#trip ??= b as TripRecord;
    else if (k === 'end') this.#outcome ??= b as Omit<Outcome, 'journal'>;
    this.options.look?.(entry);
  }

  end(): AuditResult {
    this.#reader.end();
    const row = rowOf(this.#chain, this.#reader, this.#found);
    const { header } = this.#found;
    const { intact } = RECOVERY[row];
    this.#unreplayed ??= whyNot(() => this.#replay?.end(row === 'clean'), this.#reader.records);
    this.#unjudged ??= whyNot(() => this.#judge.end(null, !this.#found.ended), this.#reader.records);
    const otherProgram = header === null ? null : this.#otherProgram(header);
    const divergence = this.#replay?.divergence ?? null;
    const inputs = this.#replay?.inputs ?? 0;
    const nothing = inputs === 0 && this.#found.ended ? 'it tells an end, and no input that led there' : null;
    const notReplayed =
      this.#replay === null ? null : (nothing ?? (divergence === null ? null : otherProgram));
    const wantedHead = this.options.head ?? null;
    const { headMet } = this.#chain;
    return {
      row,
      // What this program cannot read it did not write, whatever the seals say.
      intact: intact && this.#unjudged === null && this.#foreign === null && (wantedHead === null || headMet),
      damage: this.#damage(row, wantedHead !== null && !headMet),
      signed: this.#signed(),
      key: header?.key ?? null,
      head: this.#chain.head,
      headMet: wantedHead === null ? null : headMet,
      records: this.#reader.records,
      seals: this.#chain.seals,
      unsealedBytes: this.#chain.unsealedBytes,
      header,
      // A record on which the replay itself fails is none that a session wrote.
      diverged:
        this.#unreplayed !== null ? true : notReplayed !== null || inputs === 0 ? null : divergence !== null,
      divergence,
      notReplayed: notReplayed ?? this.#unreplayed,
      invariantsBroken: this.#judge.broken,
      breaches: this.#judge.breaches,
      firstOut: this.#firstOut.result,
      events: this.#events.list,
      eventsLeftOut: this.#events.dropped,
      margins: this.#margins.list,
      extremes: this.#extremes.list,
      proofs: this.#margins.proofs,
      refusals: this.#refusals,
      trip: this.#trip,
      outcome: this.#outcome,
      carriedOut: this.#orderDone.result,
      observing: this.#observing(),
      planned: this.#planned(),
      energy: this.#energy(),
      clockSteps: this.#clock.list,
    };
  }

  #planned(): AuditResult['planned'] {
    const planned = this.#judge.picture?.planned ?? null;
    return planned === null ? null : againstPlan(planned, this.#outcome);
  }

  #observing(): AuditResult['observing'] {
    const observing = this.#judge.picture?.observing ?? null;
    return observing === null || observing.codes.length === 0 ? null : observing;
  }

  /** The header holds a hash of the rig; the record of the rig must be that one. */
  #otherRig(rig: Rig): string | null {
    const { header } = this.#found;
    if (header === null) return null;
    const hash = createHash('sha256').update(canonicalJson(rig)).digest('hex');
    return hash === header.rigHash ? null : 'the rig is not the one whose hash the header holds';
  }

  #otherProgram({ software, machineHash: hash }: JournalHeader): string | null {
    if (hash !== machineHash()) return `its session ran on another state machine (${hash.slice(0, 12)}…)`;
    return software === this.options.software
      ? null
      : `it was written by ${software}, this is ${this.options.software}`;
  }

  #signed(): AuditResult['signed'] {
    const { signatures, faults } = this.#chain;
    if (this.options.verifier) {
      if (faults.some((f) => f.kind === 'signature' || f.kind === 'unsigned')) return 'invalid';
      return signatures > 0 ? 'valid' : 'no';
    }
    return signatures > 0 ? 'not-checked' : 'no';
  }

  #damage(row: RecoveryRow, headMissing: boolean): string[] {
    const words: string[] = [];
    for (const { n, atByte, kind } of this.#chain.faults.slice(0, MOST_TOLD)) {
      const where = `block from byte ${atByte} to seal ${n}`;
      if (kind === 'hash') words.push(`${where}: its bytes are not those that were sealed`);
      else if (kind === 'signature') words.push(`${where}: its signature is not of this key`);
      else if (kind === 'unsigned') words.push(`${where}: it is not signed`);
      else words.push(`at byte ${atByte}: a line longer than any that is written`);
    }
    for (const { line, what } of this.#reader.faults.slice(0, MOST_TOLD)) words.push(`line ${line}: ${what}`);
    if (headMissing)
      words.push(
        'the head noted elsewhere is not among its seals: the tail was cut, or it is another journal',
      );
    if (this.#found.foreign !== null) words.push(this.#found.foreign);
    if (this.#foreign !== null) words.push(this.#foreign);
    if (this.#unjudged !== null) words.push(`not all could be read: ${this.#unjudged}`);
    if (words.length === 0 && !RECOVERY[row].intact) words.push(RECOVERY[row].what);
    return words;
  }

  #energy(): Energy | null {
    if (this.#judge.picture === null) return null;
    const { toBatteryKwh, fromSupplyKwh, outOfConverterKwh, intoTrainKwh } = this.#ledger;
    return {
      toldKwh: this.#outcome?.energyToBatteryKwh ?? null,
      toBatteryKwh,
      fromSupplyKwh,
      lossesKwh: {
        converter: fromSupplyKwh - outOfConverterKwh,
        cableAndContacts: outOfConverterKwh - intoTrainKwh,
        train: intoTrainKwh - toBatteryKwh,
      },
    };
  }
}

const MOST_TOLD = 10;
/** As many as a session tells. */
const MOST_REFUSALS = 1000;

/** @returns null when it went well */
function whyNot(act: () => unknown, n: number): string | null {
  try {
    act();
    return null;
  } catch (error) {
    return `from record ${n} on (${error instanceof Error ? error.message : String(error)})`;
  }
}
