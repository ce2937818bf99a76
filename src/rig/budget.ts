/**
 * What a rig asks of its link and how fast its protections are, worked out before anything runs: the load of
 * every port in both directions, and for each protection the time from its cause to current off, part by
 * part. The loader refuses a rig that is over; `loopwarden limits` shows the tables.
 *
 * These are worst cases for one fault at a time with everything else healthy. The hard-wired chain is no part
 * of them: it is faster and acts by itself.
 */
import {
  answerBytes,
  feedBytes,
  longestOrderBytes,
  makeSafeBytes,
  reportBytes,
  transitMs,
} from './frame-size.js';
import { MAKE_SAFE } from './make-safe.js';
import type { Rig } from './schema.js';
import { batteryRafts } from './volts.js';

/** Longest line the link takes, terminator excluded; a test keeps it equal to the link's own bound. */
export const LONGEST_LINE_BYTES = 2048;
/** One step of the supervisor with the serial driver before and after it, ms. */
export const PROCESSING_MS = 10;
/** A check may want a reading confirmed by this many more reports before it trips, not by more. */
export const DEBOUNCE_REPORTS = 1;
/** Ages are checked at least every half deadline. */
const TICK_SHARE = 0.5;
/** Exposed plug pins dead after this; IEC 60204-1 6.2.4, published. */
export const PINS_DEAD_MS = 1000;

export interface DirectionLoad {
  /** Per period. */
  readonly bytes: number;
  /** Share of the baud rate. */
  readonly percent: number;
}

export interface PortLoad {
  readonly port: string;
  readonly baud: number;
  /** One report and one answer. */
  readonly toSupervisor: DirectionLoad;
  /** One feed and the longest order. */
  readonly toDevice: DirectionLoad;
  /** Longest line either way, terminator excluded. */
  readonly longestLineBytes: number;
}

type Port = Rig['link']['ports'][number];

/** Ports that carry the line protocol; what an instrument asks of its line is its map's matter. */
export function linkLoad(rig: Rig): PortLoad[] {
  const lines = rig.link.ports.filter((port) => port.instrument === undefined);
  return lines.map((port) => {
    const load = (bytes: number): DirectionLoad => ({
      bytes,
      percent: (100 * transitMs(bytes, port.baud)) / rig.link.periodMs,
    });
    const report = reportBytes(port.roles, rig.battery.rafts.length);
    const order = longestOrderBytes(port.roles);
    return {
      port: port.name,
      baud: port.baud,
      toSupervisor: load(report + answerBytes()),
      toDevice: load(feedBytes() + order),
      longestLineBytes: Math.max(report, order) - 1,
    };
  });
}

export interface BudgetPart {
  readonly name: string;
  readonly ms: number;
}

export interface TripBudget {
  /** What trips. */
  readonly protection: string;
  readonly parts: readonly BudgetPart[];
  readonly totalMs: number;
  readonly limitMs: number;
  /** Key of the limit. */
  readonly setting: string;
  readonly within: boolean;
}

const budget = (
  protection: string,
  setting: string,
  limitMs: number,
  parts: readonly BudgetPart[],
): TripBudget => {
  const totalMs = parts.reduce((sum, part) => sum + part.ms, 0);
  return { protection, parts, totalMs, limitMs, setting, within: totalMs <= limitMs };
};

/** Ports that serve a role; `raft` is served by every port that serves any raft. */
function portsOf(rig: Rig, role: string): Port[] {
  return rig.link.ports.filter((p) =>
    p.roles.some((r) => r === role || (role === 'raft' && r.startsWith('raft'))),
  );
}

/** From the sensor to the verdict: the wait for a report, its way, one confirmation, the supervisor's step. */
function seen(rig: Rig, role: string): BudgetPart[] {
  const { periodMs } = rig.link;
  const ports = portsOf(rig, role);
  const ways = ports.map((p) =>
    // An answer may stand in front of the report. Behind an adapter there is no wire for it.
    p.instrument === undefined
      ? transitMs(answerBytes() + reportBytes(p.roles, rig.battery.rafts.length), p.baud)
      : 0,
  );
  const pollMs = Math.max(0, ...ports.map((p) => p.pollMs ?? 0));
  return [
    ...(pollMs > 0 ? [{ name: 'until the instrument is asked', ms: pollMs }] : []),
    { name: 'wait for the next report', ms: periodMs },
    { name: 'report on the wire', ms: Math.max(0, ...ways) },
    { name: 'confirmed by one more report', ms: DEBOUNCE_REPORTS * periodMs },
    { name: 'supervisor', ms: PROCESSING_MS },
  ];
}

/** From the verdict to the order for contactor P. Bare pins wait for contactors and bleeder alone. */
function ordered(rig: Rig, roles: readonly string[] = ['converter', 'contactor']): BudgetPart[] {
  const ports = roles.flatMap((role) => portsOf(rig, role));
  const ways = ports.map((p) =>
    // A feed and an order may stand in front of make-safe; an instrument may be in the middle of a round.
    p.instrument === undefined
      ? transitMs(feedBytes() + longestOrderBytes(p.roles) + makeSafeBytes(), p.baud)
      : (p.pollMs ?? 0),
  );
  return [
    { name: 'make-safe on the wire', ms: Math.max(0, ...ways) },
    { name: 'device, at the latest', ms: MAKE_SAFE.openPLatestMs },
  ];
}

const opened = (rig: Rig): BudgetPart => ({ name: 'contactor opens', ms: rig.contactors.openMs });

/** Time the plug bleeder needs from the highest voltage to the safe one, ms. */
export function plugBleedMs(rig: Rig): number {
  const { plugOhm, safeV } = rig.bleeder;
  return plugOhm * rig.connection.cable.capacitanceF * Math.log(rig.converter.maxVoltageV / safeV) * 1000;
}

export function tripBudgets(rig: Rig): TripBudget[] {
  const { tripTimes, pilot, link, isolation } = rig;
  const off = [...ordered(rig), opened(rig)];
  const window: BudgetPart[] = pilot
    ? [{ name: 'pilot window', ms: (1000 * pilot.periodsPerWindow) / pilot.frequencyHz }]
    : [];
  const presence = pilot ? 'pilot loop' : 'sense contacts of the shoes';
  const presenceSeen = [...window, ...seen(rig, pilot ? 'loop' : 'latch')];
  const round = { name: 'until the next measurement', ms: isolation.everyS * 1000 };
  const measured = { name: 'measurement', ms: isolation.checkMaxS * 1000 };

  const rows = [
    budget(presence, 'tripTimes.loopMs', tripTimes.loopMs, [...presenceSeen, ...off]),
    budget('stop chain as read', 'tripTimes.stopChainMs', tripTimes.stopChainMs, [
      ...seen(rig, 'stop'),
      ...off,
    ]),
    budget('over-current', 'tripTimes.overCurrentMs', tripTimes.overCurrentMs, [
      ...seen(rig, 'meter'),
      ...off,
    ]),
    budget('reverse current', 'tripTimes.reverseCurrentMs', tripTimes.reverseCurrentMs, [
      ...seen(rig, 'meter'),
      ...off,
    ]),
    budget('over-voltage', 'tripTimes.overVoltageMs', tripTimes.overVoltageMs, [
      ...seen(rig, 'meter'),
      ...off,
    ]),
    budget('isolation', 'tripTimes.isolationMs', tripTimes.isolationMs, [
      round,
      measured,
      ...seen(rig, 'isolation'),
      ...off,
    ]),
    silenceBudget(rig, off),
  ];
  if (batteryRafts(rig) > 0) {
    const raft = { name: 'management unit, at its age limit', ms: link.slowReadingMs };
    rows.push(budget('cell', 'tripTimes.cellMs', tripTimes.cellMs, [raft, ...seen(rig, 'raft'), ...off]));
  }
  if (pilot) rows.push(pinsBudget(rig, presenceSeen));
  return rows;
}

/** Reports lost while orders still arrive, or both ways dead: the slower of the two. */
function silenceBudget(rig: Rig, off: readonly BudgetPart[]): TripBudget {
  const { link, tripTimes } = rig;
  const bySupervisor: BudgetPart[] = [
    { name: 'supervisor silence limit', ms: link.silenceMs },
    { name: 'until ages are looked at', ms: link.silenceMs * TICK_SHARE },
    { name: 'supervisor', ms: PROCESSING_MS },
    ...off,
  ];
  const byDevice: BudgetPart[] = [
    { name: 'device watchdog', ms: link.deviceWatchdogMs },
    { name: 'device, at the latest', ms: MAKE_SAFE.openPLatestMs },
    opened(rig),
  ];
  const rows = [bySupervisor, byDevice].map((parts) =>
    budget('link silent', 'tripTimes.silenceMs', tripTimes.silenceMs, parts),
  );
  return rows[0]!.totalMs >= rows[1]!.totalMs ? rows[0]! : rows[1]!;
}

/** A plug pulled under load: the pilot pin breaks first, then the pins are bare. */
function pinsBudget(rig: Rig, presenceSeen: readonly BudgetPart[]): TripBudget {
  const toBleeder = MAKE_SAFE.openNAfterPMs + MAKE_SAFE.openTrainAfterNMs + MAKE_SAFE.bleedPlugAfterTrainMs;
  return budget('pins of a pulled plug below the safe voltage', 'bleeder.plugOhm', PINS_DEAD_MS, [
    ...presenceSeen,
    ...ordered(rig, ['contactor', 'bleeder', 'train']),
    { name: 'device: P, N, train, plug bleeder in turn', ms: toBleeder },
    { name: 'plug bleeds', ms: plugBleedMs(rig) },
  ]);
}
