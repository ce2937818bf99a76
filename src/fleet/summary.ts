/** Many journals as one picture: counted as they come, with nothing kept of a journal but a few figures. */
import { type Drift, RigDrift } from './drift.js';
import type { NearLimit } from './limits-met.js';
import type { JournalRead, Session } from './one.js';

export interface Problem {
  readonly file: string;
  readonly row: string;
  readonly what: string;
}

export interface Nearest extends NearLimit {
  readonly file: string;
  readonly rig: string;
}

export interface RigSummary {
  readonly rig: string;
  readonly sessions: number;
  readonly rehearsals: number;
  /** How many different sets of figures the rig had: its file was changed in between. */
  readonly versions: number;
  readonly firstWallMs: number;
  readonly lastWallMs: number;
  readonly toBatteryKwh: number;
  /** Wall times, and with them every drift, are those of rehearsals: invented. */
  readonly inventedTimes: boolean;
  readonly drifts: readonly Drift[];
}

export interface FleetSummary {
  readonly folder: string;
  readonly journals: number;
  /** Journals whose record is intact: all other figures are of these. */
  readonly sessions: number;
  readonly rehearsals: number;
  /** Sessions whose last seal is that of another file as well. They are counted all the same. */
  readonly copies: number;
  readonly replayed: boolean;
  readonly rows: Readonly<Record<string, number>>;
  readonly outcomes: Readonly<Record<string, number>>;
  readonly trips: Readonly<Record<string, number>>;
  readonly refusals: Readonly<Record<string, number>>;
  readonly energy: {
    readonly toldKwh: number;
    readonly toBatteryKwh: number;
    readonly fromSupplyKwh: number;
  };
  /** The nearest of each kind, the nearest first. */
  readonly nearest: readonly Nearest[];
  readonly rigs: readonly RigSummary[];
  readonly problems: readonly Problem[];
  readonly problemCount: number;
  readonly notIntact: number;
  readonly diverging: number;
  /** Sessions that were started and have no end on the record. */
  readonly unfinished: number;
  readonly notReplayed: number;
  readonly warnings: readonly string[];
}

/** More than this no person reads; all are counted. */
const MOST_PROBLEMS = 1000;

interface RigCount {
  sessions: number;
  rehearsals: number;
  firstWallMs: number;
  lastWallMs: number;
  toBatteryKwh: number;
  readonly hashes: Set<string>;
  readonly drift: RigDrift;
}

const count = (into: Map<string, number>, key: string): void => void into.set(key, (into.get(key) ?? 0) + 1);
/** The most frequent first, and in the order of their names where they are equal. */
const counted = (from: Map<string, number>): Record<string, number> =>
  Object.fromEntries([...from].sort(([a, m], [b, n]) => n - m || (a < b ? -1 : 1)));

/** One of six rafts stands for all of them: whose it was is told. */
const kindOf = (what: string): string => what.replace(/^raft\d/, 'raft').replace(/ \(.*$/, '');

export class Gathering {
  journals = 0;
  notIntact = 0;
  diverging = 0;
  unfinished = 0;
  #sessions = 0;
  #notReplayed = 0;
  #problemCount = 0;
  #toldKwh = 0;
  #toBatteryKwh = 0;
  #fromSupplyKwh = 0;
  readonly #heads = new Set<string>();
  readonly #problems: Problem[] = [];
  readonly #rows = new Map<string, number>();
  readonly #outcomes = new Map<string, number>();
  readonly #trips = new Map<string, number>();
  readonly #refusals = new Map<string, number>();
  readonly #nearest = new Map<string, Nearest>();
  readonly #rigs = new Map<string, RigCount>();

  constructor(
    private readonly folder: string,
    private readonly replay: boolean,
  ) {}

  add(read: JournalRead): void {
    const { file, row, intact, diverges, unfinished, replayed, trouble, session } = read;
    this.journals++;
    count(this.#rows, row);
    if (!intact) this.notIntact++;
    if (diverges) this.diverging++;
    if (unfinished) this.unfinished++;
    if (this.replay && !replayed) this.#notReplayed++;
    if (trouble !== '' || !intact || row !== 'clean') {
      this.#problemCount++;
      if (this.#problems.length < MOST_PROBLEMS) this.#problems.push({ file, row, what: trouble });
    }
    if (session !== null) this.#session(file, session);
  }

  #session(file: string, s: Session): void {
    this.#sessions++;
    this.#heads.add(s.head);
    this.#toldKwh += s.toldKwh;
    this.#toBatteryKwh += s.toBatteryKwh;
    this.#fromSupplyKwh += s.fromSupplyKwh;
    count(this.#outcomes, s.outcome ?? 'without an end');
    if (s.trip !== null) count(this.#trips, s.trip);
    for (const code of s.refusals) count(this.#refusals, code);
    for (const near of s.near) {
      const kind = kindOf(near.what);
      const nearest = this.#nearest.get(kind);
      if (nearest === undefined || near.left < nearest.left)
        this.#nearest.set(kind, { ...near, file, rig: s.rig });
    }
    const rig = this.#rig(s);
    rig.sessions++;
    if (s.rehearsal) rig.rehearsals++;
    rig.firstWallMs = Math.min(rig.firstWallMs, s.wallMs);
    rig.lastWallMs = Math.max(rig.lastWallMs, s.wallMs);
    rig.toBatteryKwh += s.toBatteryKwh;
    rig.hashes.add(s.rigHash);
    rig.drift.add(s);
  }

  #rig({ rig, wallMs }: Session): RigCount {
    const known = this.#rigs.get(rig);
    if (known !== undefined) return known;
    const made: RigCount = {
      sessions: 0,
      rehearsals: 0,
      firstWallMs: wallMs,
      lastWallMs: wallMs,
      toBatteryKwh: 0,
      hashes: new Set(),
      drift: new RigDrift(rig),
    };
    this.#rigs.set(rig, made);
    return made;
  }

  /** @param withinWeeks warns of limits that would be met within this */
  end(withinWeeks: number): FleetSummary {
    const rigs = [...this.#rigs]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([rig, { hashes, drift, ...counts }]) => ({
        rig,
        ...counts,
        versions: hashes.size,
        inventedTimes: drift.invented,
        drifts: drift.drifts(withinWeeks),
      }));
    return {
      folder: this.folder,
      journals: this.journals,
      sessions: this.#sessions,
      rehearsals: rigs.reduce((sum, r) => sum + r.rehearsals, 0),
      copies: this.#sessions - this.#heads.size,
      replayed: this.replay,
      rows: counted(this.#rows),
      outcomes: counted(this.#outcomes),
      trips: counted(this.#trips),
      refusals: counted(this.#refusals),
      energy: {
        toldKwh: this.#toldKwh,
        toBatteryKwh: this.#toBatteryKwh,
        fromSupplyKwh: this.#fromSupplyKwh,
      },
      nearest: [...this.#nearest.values()].sort((a, b) => a.left - b.left),
      rigs,
      problems: this.#problems,
      problemCount: this.#problemCount,
      notIntact: this.notIntact,
      diverging: this.diverging,
      unfinished: this.unfinished,
      notReplayed: this.#notReplayed,
      warnings: rigs.flatMap((r) => r.drifts.flatMap((d) => (d.warning === null ? [] : [d.warning]))),
    };
  }
}
