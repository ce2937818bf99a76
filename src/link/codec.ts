/**
 * Line protocol v1 as text: `dir nonce SP seq SP verb *(SP section) "*" crc`, without the line feed. Pure and
 * bounded: decoding takes any string whatever, never throws, and says from a closed list why it refused.
 * PROTOCOL.md is the contract; a test holds its vectors against this file.
 */

import { ANSWERS, type Answer } from '../rig/orders.js';
import { MAX_RAFTS, PHASES } from '../rig/roles.js';
import { crc32c, crcText } from './crc32c.js';
import {
  type Decoded,
  type Direction,
  type Hello,
  MAX_ORDERS,
  type Reject,
  type Report,
  roleOfTag,
  type ServedRole,
  type ToDevice,
  type ToSupervisor,
  tagOfRole,
  WAVE_PARTS,
  WAVE_SAMPLES,
  type Wave,
  type Welcome,
} from './frames.js';
import { LineWriter } from './line-writer.js';
import { MAX_LINE_BYTES } from './link.js';
import { decodeOrders, encodeOrders } from './order-codec.js';
import { decodeReport, encodeReport } from './report-codec.js';
import { countText, fromCount, MAX_COUNT, MIN_COUNT, Scan, toCount } from './scan.js';

/** Length of `*` and the check. */
const TAIL = 9;
const SCALE_A = 0.01;
const SCALE_V = 0.1;
const MAX_ROLES = 11 + MAX_RAFTS;
const MAX_VERSION = 9999;
const ANSWER_NAMES = Object.keys(ANSWERS) as Answer[];

// ---- encoding ---------------------------------------------------------------------------------------

/** The one line being written; encoding is over before anything else can begin. */
const out = new LineWriter();

/** @throws RangeError when the frame cannot be expressed: our own mistake, never the other side's. */
export function encodeToDevice(nonce: string, seq: number, body: ToDevice): string {
  open('>', nonce, seq);
  if (body.verb === 'feed') {
    out.text('feed ph:');
    out.count(body.phase);
  } else if (body.verb === 'order') out.text(`order${encodeOrders(body.orders)}`);
  else {
    const { version, periodMs, watchdogMs } = body;
    out.text(`hello lw:${version} per:${periodMs} wd:${watchdogMs}${limitsAndRoles(body)}`);
  }
  return out.sealed();
}

/** @throws RangeError when the frame cannot be expressed. */
export function encodeToSupervisor(nonce: string, seq: number, body: ToSupervisor): string {
  open('<', nonce, seq);
  if (body.verb === 'report') {
    out.text('report');
    encodeReport(out, body.roles);
  } else out.text(supervisorText(body));
  return out.sealed();
}

function open(mark: string, nonce: string, seq: number): void {
  if (!(Number.isInteger(seq) && seq >= 1 && seq <= MAX_COUNT))
    throw new RangeError(`sequence number ${seq}`);
  out.clear();
  out.text(mark);
  out.text(nonce);
  out.text(' ');
  out.count(seq);
  out.text(' ');
}

function supervisorText(body: Exclude<ToSupervisor, Report>): string {
  switch (body.verb) {
    case 'answer':
      return `answer re:${body.re},${ANSWERS[body.answer]},${body.failed ?? ''}`;
    case 'tag':
      return `tag ev:${body.clockMs},${body.kind},${countText(toCount(body.value, 1))}`;
    case 'wave': {
      const samples = body.samplesA.map((a) => countText(toCount(a, 1e-6))).join(',');
      return `wave re:${body.re} part:${body.part},${body.parts} dt:${body.spacingNs} ua:${samples}`;
    }
    case 'welcome':
      return (
        `welcome lw:${body.version} id:${body.model},${body.serial} fw:${body.firmware} cal:${body.calibratedOn}` +
        ` wd:${body.watchdogMs} per:${body.periodMs}${limitsAndRoles(body)} latched:${body.latched ? 1 : 0}`
      );
  }
}

function limitsAndRoles(body: {
  maxCurrentA: number;
  maxVoltageV: number;
  roles: readonly ServedRole[];
}): string {
  const limits = `${countText(toCount(body.maxCurrentA, SCALE_A))},${countText(toCount(body.maxVoltageV, SCALE_V))}`;
  return ` lim:${limits} roles:${body.roles.map(tagOfRole).join(',')}`;
}

// ---- decoding ---------------------------------------------------------------------------------------

export const decodeToDevice = (line: string): Decoded<ToDevice> =>
  decodeFrame(line, 'to-device', decodeForDevice);
export const decodeToSupervisor = (line: string): Decoded<ToSupervisor> =>
  decodeFrame(line, 'to-supervisor', decodeForSupervisor);

const refuse = (why: Reject) => ({ ok: false, why }) as const;

function decodeFrame<B extends ToDevice | ToSupervisor>(
  line: string,
  direction: Direction,
  decodeBody: (verb: string, scan: Scan) => B | null,
): Decoded<B> {
  if (line.length > MAX_LINE_BYTES) return refuse('too-long');
  for (let i = 0; i < line.length; i++) {
    const code = line.charCodeAt(i);
    if (code < 32 || code > 126) return refuse('not-ascii');
  }
  const end = line.length - TAIL;
  if (end < 1 || line.charCodeAt(end) !== 42) return refuse('bad-grammar');
  // The check comes before everything it protects: nothing of a damaged line is believed, not even its verb.
  if (line.slice(end + 1) !== crcText(crc32c(line, end))) return refuse('bad-crc');
  const mark = line[0];
  if (mark !== '>' && mark !== '<') return refuse('bad-grammar');
  if ((mark === '>') !== (direction === 'to-device')) return refuse('wrong-direction');

  const nonce = line.slice(1, 9);
  if (!isNonce(nonce)) return refuse('bad-grammar');
  const scan = new Scan(line, 9, end);
  scan.take(' ');
  const seq = scan.countWithin(1, MAX_COUNT);
  scan.take(' ');
  const verb = takeVerb(scan);
  if (scan.why !== null) return refuse(scan.why);
  const body = decodeBody(verb, scan);
  if (body === null) return refuse('unknown-verb');
  if (scan.why === null && !scan.done) scan.fail('bad-grammar');
  return scan.why !== null ? refuse(scan.why) : { ok: true, frame: { nonce, seq, body } };
}

function isNonce(text: string): boolean {
  for (let i = 0; i < 8; i++) {
    const c = text.charCodeAt(i);
    if (!((c >= 48 && c <= 57) || (c >= 97 && c <= 102))) return false;
  }
  return true;
}

function takeVerb(scan: Scan): string {
  const first = scan.at;
  while (scan.peek() >= 97 && scan.peek() <= 122) scan.at++;
  if (scan.at === first) scan.fail('bad-grammar');
  return scan.text.slice(first, scan.at);
}

function decodeForDevice(verb: string, scan: Scan): ToDevice | null {
  if (verb === 'feed') {
    scan.take(' ph:');
    return { verb, phase: scan.countWithin(0, PHASES.length - 1) };
  }
  if (verb === 'order') return { verb, orders: decodeOrders(scan, MAX_ORDERS) };
  if (verb === 'hello') return decodeHello(scan);
  return null;
}

function decodeForSupervisor(verb: string, scan: Scan): ToSupervisor | null {
  if (verb === 'report') return decodeReport(scan);
  if (verb === 'answer') return decodeAnswer(scan);
  if (verb === 'tag') {
    scan.take(' ev:');
    const clockMs = scan.countWithin(0, MAX_COUNT);
    scan.take(',');
    const kind = scan.token();
    scan.take(',');
    return { verb, clockMs, kind, value: scan.count() };
  }
  if (verb === 'wave') return decodeWave(scan);
  if (verb === 'welcome') return decodeWelcome(scan);
  return null;
}

function decodeHello(scan: Scan): Hello {
  scan.take(' lw:');
  const version = scan.countWithin(1, MAX_VERSION);
  scan.take(' per:');
  const periodMs = scan.countWithin(1, 10_000);
  scan.take(' wd:');
  const watchdogMs = scan.countWithin(1, 10_000);
  return { verb: 'hello', version, periodMs, watchdogMs, ...takeLimitsAndRoles(scan) };
}

function decodeWelcome(scan: Scan): Welcome {
  scan.take(' lw:');
  const version = scan.countWithin(1, MAX_VERSION);
  scan.take(' id:');
  const model = scan.token();
  scan.take(',');
  const serial = scan.token();
  scan.take(' fw:');
  const firmware = scan.token();
  scan.take(' cal:');
  const calibratedOn = scan.countWithin(19000101, 99991231);
  scan.take(' wd:');
  const watchdogMs = scan.countWithin(1, 10_000);
  scan.take(' per:');
  const periodMs = scan.countWithin(1, 10_000);
  const common = takeLimitsAndRoles(scan);
  scan.take(' latched:');
  const latched = scan.countWithin(0, 1) === 1;
  return {
    verb: 'welcome',
    version,
    model,
    serial,
    firmware,
    calibratedOn,
    watchdogMs,
    periodMs,
    ...common,
    latched,
  };
}

function takeLimitsAndRoles(scan: Scan) {
  scan.take(' lim:');
  const maxCurrentA = fromCount(scan.countWithin(0, MAX_COUNT), SCALE_A);
  scan.take(',');
  const maxVoltageV = fromCount(scan.countWithin(0, MAX_COUNT), SCALE_V);
  scan.take(' roles:');
  const roles: ServedRole[] = [];
  do {
    const role = roleOfTag(scan.token());
    if (role === undefined) scan.fail('unknown-role');
    else if (roles.includes(role)) scan.fail('bad-grammar');
    else roles.push(role);
  } while (scan.comma() && roles.length < MAX_ROLES);
  return { maxCurrentA, maxVoltageV, roles };
}

function decodeAnswer(scan: Scan): ToSupervisor {
  scan.take(' re:');
  const re = scan.countWithin(1, MAX_COUNT);
  scan.take(',');
  const code = scan.countWithin(0, ANSWER_NAMES.length - 1);
  const answer = ANSWER_NAMES.find((name) => ANSWERS[name] === code) as Answer;
  scan.take(',');
  // Empty exactly when everything was done: an answer that contradicts itself is no answer.
  const done = answer === 'done';
  const failed = done ? null : scan.countWithin(0, MAX_ORDERS - 1);
  return { verb: 'answer', re, answer, failed };
}

function decodeWave(scan: Scan): Wave {
  scan.take(' re:');
  const re = scan.countWithin(0, MAX_COUNT);
  scan.take(' part:');
  const part = scan.countWithin(1, WAVE_PARTS);
  scan.take(',');
  const parts = scan.countWithin(part, WAVE_PARTS);
  scan.take(' dt:');
  const spacingNs = scan.countWithin(1, MAX_COUNT);
  scan.take(' ua:');
  const samplesA: number[] = [];
  do samplesA.push(fromCount(scan.countWithin(MIN_COUNT, MAX_COUNT), 1e-6));
  while (scan.comma() && samplesA.length < WAVE_SAMPLES);
  return { verb: 'wave', re, part, parts, spacingNs, samplesA };
}
