/** From the file of a command map to one that may be used: held against the schema, itself and the rig. */
import path from 'node:path';
import type { Fault } from '../host/input-error.js';
import { checkSchema } from './check-schema.js';
import type { Sources } from './extended.js';
import {
  CONVERTER_READS,
  type InstrumentMap,
  LOAD_READS,
  METER_READS,
  modbusSchema,
  readNames,
  scpiSchema,
} from './instrument-schema.js';
import { roundOf } from './instrument-timing.js';
import { type Located, nodeAt, placeOf, plain } from './locate.js';
import { num } from './rules/rule.js';
import type { Rig } from './schema.js';

/** The check of a decay wants each report to begin where the last one ended, within this share (src/checks/decay.ts). */
const CONTINUOUS_SHARE = 0.75;

type Port = Rig['link']['ports'][number];
type Say = (path: string, message: string) => void;

/** Where the map of a port stands: relative to the file that names it. */
export function instrumentPath(root: Located, sources: Sources, port: number, file: string): string {
  const place = placeOf(root, ['link', 'ports', port, 'instrument']);
  return path.resolve(path.dirname(sources.get(place.file) ?? place.file), file);
}

/** @returns the map, or null when it cannot be used; every fault goes to `faults` */
export function checkInstrument(root: Located, rig: Rig, port: Port, faults: Fault[]): InstrumentMap | null {
  return checkMap(root, faults, (map, say) => fitsRig(map, rig, port, say));
}

/** The map of an electronic load or a bidirectional source, which belongs to no port of a rig. */
export function checkLoad(
  root: Located,
  line: { readonly baud: number; readonly pollMs: number },
  faults: Fault[],
): InstrumentMap | null {
  return checkMap(root, faults, (map, say) => {
    if (map.role !== 'load') say('role', `${map.role}, expected load`);
    fitsRound(map, { ...line, name: 'the load' }, say);
  });
}

function checkMap(
  root: Located,
  faults: Fault[],
  fits: (map: InstrumentMap, say: Say) => void,
): InstrumentMap | null {
  const data = plain(root);
  const speaks = nodeAt(root, ['speaks']);
  if (speaks?.kind !== 'scalar' || (speaks.value !== 'scpi' && speaks.value !== 'modbus')) {
    const found = speaks?.kind === 'scalar' ? JSON.stringify(speaks.value) : 'nothing';
    faults.push({
      ...placeOf(root, ['speaks']),
      path: 'speaks',
      message: `found ${found}, expected one of scpi, modbus`,
    });
    return null;
  }
  const checked =
    speaks.value === 'scpi' ? checkSchema(scpiSchema, root, data) : checkSchema(modbusSchema, root, data);
  if (!checked.ok) {
    faults.push(...checked.faults);
    return null;
  }
  const map = checked.value;
  const before = faults.length;
  const say: Say = (at, message) => faults.push({ ...placeOf(root, at.split('.')), path: at, message });
  fitsItself(map, say);
  fits(map, say);
  return faults.length === before ? map : null;
}

function fitsItself(map: InstrumentMap, say: Say): void {
  const known: readonly string[] = { converter: CONVERTER_READS, load: LOAD_READS, meter: METER_READS }[
    map.role
  ];
  const names = readNames(map);
  for (const name of new Set(names)) {
    if (!known.includes(name)) say('reads', `${name} is no reading of a ${map.role}: ${known.join(', ')}`);
    if (names.filter((n) => n === name).length > 1) say('reads', `${name} is read twice`);
  }
  const derived = ['currentMinA', 'currentMaxA', 'outputMinV', 'outputMaxV', 'plugMinV', 'plugMaxV'];
  const needed = {
    converter: ['outputV', 'outputA', 'outputOn'],
    load: ['loadV', 'loadA', 'outputOn'],
    meter: METER_READS.filter((f) => !derived.includes(f)),
  }[map.role];
  const missing = needed.filter((n) => !names.includes(n));
  if (missing.length > 0)
    say('reads', `nothing reads ${missing.join(', ')}: what is not read fails every check that needs it`);
  if (map.speaks === 'modbus') {
    map.reads.forEach((block, b) => {
      block.values.forEach((v, i) => {
        const end = v.at + (v.type.endsWith('16') ? 1 : 2);
        if (end > block.registers)
          say(`reads.${b}.values.${i}.at`, `ends at register ${end} of a block of ${block.registers}`);
      });
    });
  }
  if (map.role === 'meter') {
    if (map.actions) say('actions', 'a meter has none: remove them');
    if (map.watchdog) say('watchdog', 'a meter has no output to guard: remove it');
    return;
  }
  if (!map.actions) say('actions', `missing: a ${map.role} must be switched and set`);
  if (!map.steps) say('steps', 'missing: set-points are rounded down to the steps of the instrument');
  placeholders(map, say);
  if (map.watchdog === undefined) {
    say(
      'watchdog',
      "missing: name the instrument's own communication watchdog, or write `watchdog: none` and hardWiredStop; " +
        'when the supervising process dies an output that nobody switches off stays on',
    );
  } else if (map.watchdog === 'none' && map.hardWiredStop === undefined) {
    say(
      'hardWiredStop',
      'missing beside `watchdog: none`: say what takes the output off when the supervising process dies',
    );
  } else if (map.watchdog !== 'none' && map.hardWiredStop !== undefined) {
    say('hardWiredStop', 'only beside `watchdog: none`; say it in the note');
  }
}

function placeholders(map: InstrumentMap, say: Say): void {
  if (map.speaks !== 'scpi') return;
  const wants = (at: string, text: string | undefined, holder: string): void => {
    if (text !== undefined && text.split(holder).length !== 2)
      say(at, `${JSON.stringify(text)} must hold ${holder} once, where the figure goes`);
  };
  wants('actions.setCurrent', map.actions?.setCurrent, '{A}');
  wants('actions.setVoltage', map.actions?.setVoltage, '{V}');
  if (typeof map.watchdog === 'object') wants('watchdog.say', map.watchdog.say, `{${map.watchdog.unit}}`);
}

function fitsRig(map: InstrumentMap, rig: Rig, port: Port, say: Say): void {
  const role = port.roles[0];
  if (port.roles.length === 1 && role !== map.role)
    say('role', `${map.role}, but port ${port.name} of the rig serves ${role}`);
  const pollMs = port.pollMs ?? Number.NaN;
  fitsRound(map, { baud: port.baud, pollMs, name: `port ${port.name}` }, say);
  if (map.role === 'meter') followsDecay(map, rig, pollMs, say);
  if (map.role !== 'converter') return;
  const { maxCurrentA, maxVoltageV } = rig.converter;
  if (!(maxCurrentA <= map.limits.maxCurrentA))
    say('limits.maxCurrentA', `${num(map.limits.maxCurrentA)} A, the rig asks for ${num(maxCurrentA)} A`);
  if (!(maxVoltageV <= map.limits.maxVoltageV))
    say('limits.maxVoltageV', `${num(map.limits.maxVoltageV)} V, the rig asks for ${num(maxVoltageV)} V`);
  if (typeof map.watchdog !== 'object') return;
  const { timeMs } = map.watchdog;
  if (!(timeMs >= 3 * pollMs))
    say(
      'watchdog.timeMs',
      `${timeMs} ms, at least three rounds (${num(3 * pollMs)} ms): a lost one must not trip`,
    );
  if (!(timeMs <= rig.tripTimes.silenceMs))
    say('watchdog.timeMs', `${timeMs} ms must not exceed tripTimes.silenceMs, ${rig.tripTimes.silenceMs} ms`);
}

function fitsRound(
  map: InstrumentMap,
  { baud, pollMs, name }: { readonly baud: number; readonly pollMs: number; readonly name: string },
  say: Say,
): void {
  const round = roundOf(map, baud);
  if (round.ms <= pollMs) return;
  say(
    'reads',
    `one round of ${round.messages} messages and ${round.bytes} bytes takes up to ${num(round.ms)} ms at ${baud} baud; ` +
      `pollMs of ${name} is ${num(pollMs)} ms: fewer readings, joined ones, a higher baud, or a longer period`,
  );
}

/** A side that is bled must be seen falling; between two rounds a meter sees it only by extremes of its own. */
function followsDecay(map: InstrumentMap, rig: Rig, pollMs: number, say: Say): void {
  const { bleeder, connection, converter } = rig;
  const names = readNames(map);
  const sides = [
    ['plug', bleeder.plugOhm * connection.cable.capacitanceF, 'plugMinV', 'plugMaxV'],
    ['output', bleeder.outputOhm * converter.capacitanceF, 'outputMinV', 'outputMaxV'],
  ] as const;
  for (const [side, tauS, least, greatest] of sides) {
    const share = Math.exp(-pollMs / (1000 * tauS));
    if (share >= CONTINUOUS_SHARE || (names.includes(least) && names.includes(greatest))) continue;
    say(
      'reads',
      `nothing reads ${least} and ${greatest}, and in one round of ${num(pollMs)} ms the ${side} falls to ${num(100 * share)} % ` +
        `while it is bled (time constant ${num(1000 * tauS)} ms), ${100 * CONTINUOUS_SHARE} % is the least that can be followed: ` +
        'read the extremes the instrument keeps, or poll more often',
    );
  }
}
