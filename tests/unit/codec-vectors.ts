/** Worked examples of the line protocol. PROTOCOL.md prints the same lines; a test keeps the two in step. */
import type { Reject, ToDevice, ToSupervisor } from '../../src/link/frames.js';

const NONCE = '5eed0001';

interface Vector<B> {
  readonly nonce: string;
  readonly seq: number;
  readonly body: B;
}
const vector = <B>(seq: number, body: B): Vector<B> => ({ nonce: NONCE, seq, body });

export const TO_DEVICE: readonly Vector<ToDevice>[] = [
  vector(1, {
    verb: 'hello',
    version: 1,
    periodMs: 100,
    watchdogMs: 300,
    maxCurrentA: 300,
    maxVoltageV: 900,
    roles: ['converter', 'contactor', 'raft1', 'raft2', 'stop'],
  }),
  vector(2, { verb: 'feed', phase: 0 }),
  vector(3, { verb: 'order', orders: [{ name: 'isolate', args: { point: 1, resistor: 0 } }] }),
  vector(4, {
    verb: 'order',
    orders: [
      { name: 'enable-converter', args: { matchA: 2 } },
      { name: 'authority', args: { ceilingA: 250, slopeAPerS: 20.5, lifeMs: 2000 } },
      { name: 'setpoint', args: { currentA: 12.34, voltageV: 790.5 } },
    ],
  }),
  vector(5, { verb: 'order', orders: [{ name: 'join-raft', args: { raft: 2 } }] }),
  vector(4294967295, { verb: 'order', orders: [{ name: 'make-safe', args: {} }] }),
];

export const TO_SUPERVISOR: readonly Vector<ToSupervisor>[] = [
  vector(1, {
    verb: 'welcome',
    version: 1,
    model: 'bench-unit',
    serial: '0042',
    firmware: '1.3.0',
    calibratedOn: 20300101,
    maxCurrentA: 320,
    maxVoltageV: 950,
    watchdogMs: 300,
    periodMs: 100,
    roles: ['converter', 'contactor', 'raft1', 'raft2', 'stop'],
    latched: false,
  }),
  vector(2, {
    verb: 'report',
    roles: {
      device: { sample: 7, clockMs: 123456, latched: 0, madeSafe: 0, rejectedFrames: 2 },
      converter: {
        sample: 65535,
        state: 2,
        outputV: 750.3,
        outputA: 199.98,
        appliedSetpointA: 200,
        appliedLimitV: 790.5,
        temperatureC: -4.5,
      },
      contactor: {
        sample: 12,
        closedP: 1,
        closedN: 1,
        closedPre: Number.NaN,
        coilP: 1,
        coilN: 1,
        coilPre: 0,
      },
      rafts: [
        null,
        {
          sample: 3,
          packV: 749.9,
          packA: 99.5,
          joined: 1,
          isolationOhm: 2_000_000,
          cellMinV: 3.412,
          cellMaxV: 3.42,
          cellMinC: 21.5,
          cellMaxC: 24,
          soc: 0.4321,
          allowedA: 150,
          alarm: 0,
          generatorRunning: Number.NaN,
        },
      ],
      stop: { sample: 99, chainClosed: 1, buttonPressed: 0 },
    },
  }),
  vector(3, { verb: 'answer', re: 4, answer: 'done', failed: null }),
  vector(4, { verb: 'answer', re: 5, answer: 'latched', failed: 0 }),
  vector(5, { verb: 'tag', clockMs: 123999, kind: 'opened-p', value: 312 }),
  vector(6, {
    verb: 'wave',
    re: 9,
    part: 2,
    parts: 3,
    spacingNs: 50_000,
    samplesA: [0.000001, 0.01, -0.000125],
  }),
];

/** Lines with a right check that must be turned away all the same, and one with a wrong one. */
export const TURNED_AWAY: readonly { readonly why: Reject; readonly head: string; readonly crc?: string }[] =
  [
    { why: 'bad-crc', head: `>${NONCE} 2 feed ph:0`, crc: '00000000' },
    { why: 'wrong-direction', head: `<${NONCE} 2 report dv:7,123456,0,0,2` },
    { why: 'bad-grammar', head: `>${NONCE} 02 feed ph:0` },
    { why: 'bad-grammar', head: `>${NONCE} 2 feed ph:-0` },
    { why: 'out-of-range', head: `>${NONCE} 2 feed ph:99` },
    { why: 'unknown-verb', head: `>${NONCE} 2 hurry` },
    { why: 'unknown-role', head: `>${NONCE} 2 order xx:open` },
  ];
