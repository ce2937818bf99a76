/** Watchdogs, who serves which role, link load, trip times. */
import { LONGEST_LINE_BYTES, linkLoad, tripBudgets } from '../budget.js';
import { ASSIGNABLE_ROLES } from '../roles.js';
import { num, type Rule } from './rule.js';

const watchdogs: Rule = ({ link }, fault) => {
  if (!(3 * link.periodMs <= link.deviceWatchdogMs)) {
    fault(
      'link.deviceWatchdogMs',
      `${link.deviceWatchdogMs} ms, at least three periods (3 × periodMs = ${3 * link.periodMs} ms): one lost frame ` +
        'must not trip',
    );
  }
  if (!(link.deviceWatchdogMs <= link.silenceMs)) {
    fault(
      'link.deviceWatchdogMs',
      `${link.deviceWatchdogMs} ms must not exceed silenceMs, ${link.silenceMs} ms: the device makes safe first`,
    );
  }
  if (!(link.silenceMs <= 1000)) fault('link.silenceMs', `${link.silenceMs} ms, at most 1000 ms`);
};

const ages: Rule = ({ link, pilot }, fault) => {
  const windowMs = pilot ? (1000 * pilot.periodsPerWindow) / pilot.frequencyHz : 0;
  const leastMs = 2 * link.periodMs + windowMs;
  if (!(link.fastReadingMs >= leastMs)) {
    fault(
      'link.fastReadingMs',
      `${link.fastReadingMs} ms, at least ${num(leastMs)} ms (two periods and a pilot window): one lost report must not trip`,
    );
  }
  if (!(link.fastReadingMs <= link.silenceMs)) {
    fault('link.fastReadingMs', `${link.fastReadingMs} ms must not exceed silenceMs, ${link.silenceMs} ms`);
  }
  if (!(link.slowReadingMs >= link.fastReadingMs)) {
    fault(
      'link.slowReadingMs',
      `${link.slowReadingMs} ms must not be below fastReadingMs, ${link.fastReadingMs} ms`,
    );
  }
  if (!(link.answerMs >= 2 * link.periodMs)) {
    fault('link.answerMs', `${link.answerMs} ms, at least two periods (${2 * link.periodMs} ms)`);
  }
  if (!(link.authorityLifeMs >= 2 * link.answerMs)) {
    fault(
      'link.authorityLifeMs',
      `${link.authorityLifeMs} ms, at least twice answerMs (${2 * link.answerMs} ms): it must be renewed before it runs out`,
    );
  }
};

const rolesServed: Rule = (rig, fault) => {
  const count = rig.battery.rafts.length;
  const servedBy = new Map<string, string>();
  const isCable = rig.connection.kind === 'cable';
  const names = new Set<string>();
  rig.link.ports.forEach((port, p) => {
    if (names.has(port.name))
      fault(`link.ports.${p}.name`, `${port.name} is taken: each port has its own name`);
    names.add(port.name);
    port.roles.forEach((role, r) => {
      const at = `link.ports.${p}.roles.${r}`;
      const number = /^raft(\d)$/.exec(role)?.[1];
      if (number && Number(number) > count) {
        fault(at, `${role}, but battery.rafts has ${count}`);
        return;
      }
      if (role === 'loop' && !isCable) fault(at, 'a shoes rig has no pilot loop: remove this role');
      const spelledOut = role === 'raft' ? rig.battery.rafts.map((_, i) => `raft${i + 1}`) : [role];
      for (const one of spelledOut) {
        const other = servedBy.get(one);
        if (other) fault(at, `${one} is already served by port ${other}: each role by exactly one port`);
        servedBy.set(one, port.name);
      }
    });
  });
  const needed = ASSIGNABLE_ROLES.filter((role) => role !== 'raft' && (role !== 'loop' || isCable));
  const missing = [...needed, ...rig.battery.rafts.map((_, i) => `raft${i + 1}`)].filter(
    (r) => !servedBy.has(r),
  );
  if (missing.length > 0)
    fault('link.ports', `no port serves ${missing.join(', ')}: add them to the roles of a port`);
};

/** Slowest line of a device that speaks the line protocol. */
const LEAST_LINE_BAUD = 57_600;

const instruments: Rule = ({ link, ramp, plausibility }, fault) => {
  link.ports.forEach((port, p) => {
    const at = `link.ports.${p}`;
    if (port.instrument === undefined) {
      if (port.pollMs !== undefined) fault(`${at}.pollMs`, 'only where an instrument is named');
      if (!(port.baud >= LEAST_LINE_BAUD))
        fault(`${at}.baud`, `${port.baud}, at least ${LEAST_LINE_BAUD} for a device on the line protocol`);
      return;
    }
    const role = port.roles[0];
    if (port.roles.length !== 1 || (role !== 'converter' && role !== 'meter'))
      fault(`${at}.roles`, 'an instrument serves one role: converter or meter');
    if (port.pollMs === undefined) {
      fault(`${at}.pollMs`, 'missing, expected a number in ms: how often the instrument is asked');
      return;
    }
    const oldestMs = link.periodMs + 2 * port.pollMs;
    if (!(oldestMs <= link.fastReadingMs)) {
      fault(
        `${at}.pollMs`,
        `${port.pollMs} ms: with one round lost a reading is up to ${oldestMs} ms old (periodMs + 2 × pollMs), ` +
          `link.fastReadingMs is ${link.fastReadingMs} ms`,
      );
    }
    // A round old, and one round long: beside a reading that is new the current seems to be another.
    const lagA = (ramp.downAPerS * 2 * port.pollMs) / 1000;
    if (!(lagA <= plausibility.currentFloorA)) {
      fault(
        'ramp.downAPerS',
        `${num(ramp.downAPerS)} A/s: in two rounds of port ${port.name} (2 × ${port.pollMs} ms) the current falls by ` +
          `${num(lagA)} A, and meter and converter may differ by plausibility.currentFloorA, ` +
          `${num(plausibility.currentFloorA)} A: a gentler slope, or quicker rounds`,
      );
    }
  });
};

const load: Rule = (rig, fault) => {
  linkLoad(rig).forEach((port) => {
    const p = rig.link.ports.findIndex(({ name }) => name === port.port);
    if (!(port.longestLineBytes <= LONGEST_LINE_BYTES)) {
      fault(
        `link.ports.${p}.roles`,
        `its report can reach ${port.longestLineBytes} bytes, a line holds ${LONGEST_LINE_BYTES}: split it over two ports`,
      );
    }
    const ways = [
      ['to the supervisor', port.toSupervisor],
      ['to the device', port.toDevice],
    ] as const;
    for (const [way, { bytes, percent }] of ways) {
      if (percent <= rig.link.maxLoadPercent) continue;
      fault(
        `link.ports.${p}.baud`,
        `${bytes} bytes ${way} every ${rig.link.periodMs} ms load ${port.baud} baud to ${num(percent)} %, ` +
          `link.maxLoadPercent is ${num(rig.link.maxLoadPercent)} %: a higher baud, a longer period or a second port`,
      );
    }
  });
};

const tripTimes: Rule = (rig, fault) => {
  for (const row of tripBudgets(rig)) {
    if (row.within) continue;
    const parts = row.parts.map((part) => `${part.name} ${num(part.ms)}`).join(' + ');
    fault(
      row.setting,
      `${row.protection} takes ${num(row.totalMs)} ms at the worst, ${num(row.limitMs)} ms are permitted: ${parts}; ` +
        'shorten a part or permit more',
    );
  }
};

export const LINK_RULES: readonly Rule[] = [watchdogs, ages, rolesServed, instruments, load, tripTimes];
