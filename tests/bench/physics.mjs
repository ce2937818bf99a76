/**
 * Our pilot and pack circuits against a circuit engine on the same circuit, each at the coarsest step that is
 * accurate enough, and a bare integrator loop as the floor below which no circuit can go.
 */
import { Simulation } from 'eecircuit-engine';
import { PilotStepper } from '../../dist/simulators/pilot-circuit.js';
import { Raft } from '../../dist/simulators/raft.js';
import { SeededRandom } from '../../dist/simulators/seeded-random.js';
import { loadRig } from '../../dist/src/rig/load.js';

/** Of the waveform's peak; what the references ask is five times as much. */
const ACCURATE_SHARE = 1e-3;
const GOAL = 50;
const REPEATS = 9;
/** Steps to choose from, coarsest first. */
const PACK_STEPS_S = [4, 3, 2, 1.5, 1, 0.75, 0.5, 0.2, 0.1, 0.05, 0.01];
/** Steps a period to choose from. */
const PILOT_STEPS = [25, 35, 50, 60, 70, 85, 100, 140, 200, 400, 800, 1600];

const engine = new Simulation();

async function solve(netlist) {
  engine.setNetList(`bench\n${netlist}\n.end\n`);
  const begun = cpuMs();
  const result = await engine.runSim();
  const ms = cpuMs() - begun;
  const faults = engine.getError().filter((line) => line.includes('aborted'));
  if (faults.length > 0) throw new Error(`the engine gave up: ${faults.join(' ')}`);
  const of = (name) => result.data.find((d) => d.name.toLowerCase() === name).values;
  return { ms, timeS: of('time'), of };
}

function readAt(timeS, values, atS) {
  let k = 0;
  return Float64Array.from(atS, (t) => {
    while (k + 2 < timeS.length && timeS[k + 1] < t) k++;
    const share = (t - timeS[k]) / (timeS[k + 1] - timeS[k]);
    return values[k] + share * (values[k + 1] - values[k]);
  });
}

/** How far computed points lie from the truth at their own instants, as a share of the truth's peak. */
function worstShare(points, truth, fromS) {
  const kept = [...points.timeS.keys()].filter((k) => points.timeS[k] >= fromS);
  const at = kept.map((k) => points.timeS[k]);
  const expected = readAt(truth.timeS, truth.values, at);
  const peak = truth.values.reduce((m, x) => Math.max(m, Math.abs(x)), 0);
  return kept.reduce((m, k, i) => Math.max(m, Math.abs(points.values[k] - expected[i])), 0) / peak;
}

/** Processor time, ms: what else the machine does must not count. */
const cpuMs = () => process.cpuUsage().user / 1000;

/** The shortest of several runs: interruptions only ever add. */
function shortestMs(work) {
  let best = Number.POSITIVE_INFINITY;
  for (let k = 0; k < REPEATS; k++) {
    const begun = cpuMs();
    work();
    best = Math.min(best, cpuMs() - begun);
  }
  return best;
}

/** The first of the steps, coarsest first, that is accurate. */
async function coarsest(steps, tryOne) {
  for (const step of steps) {
    const share = await tryOne(step);
    if (share <= ACCURATE_SHARE) return { step, share };
  }
  throw new Error('no step is accurate enough');
}

const say = (text) => process.stdout.write(`${text}\n`);
const percent = (share) => `${(100 * share).toFixed(3)} %`;

/** @param perS how many simulated seconds each computes in a second */
function tell(title, unit, ours, theirs, floorPerS) {
  const ratio = ours.perS / theirs.perS;
  say(title);
  say(
    `  ours    ${unit(ours.step)}, off by ${percent(ours.share)} of peak: ${ours.perS.toFixed(0)} s in a second`,
  );
  say(
    `  engine  ${unit(theirs.step)}, off by ${percent(theirs.share)}: ${theirs.perS.toFixed(1)} s in a second`,
  );
  say(`  ratio   ${ratio.toFixed(0)} × the engine (goal ${GOAL} ×: ${ratio >= GOAL ? 'met' : 'missed'})`);
  say(`  floor   a bare integrator loop of the same steps is ${(floorPerS / ours.perS).toFixed(1)} × ours`);
  say('');
}

const PILOT = {
  sourceVrms: 12,
  frequencyHz: 80,
  sourceOhm: 1000,
  coreOhm: 20,
  coreHenry: 2e-5,
  cableFarad: 2e-9,
  leakOhm: 20e3,
  leakAt: 0.4,
  diode: { kind: 'exponential', dropV: 0.7, slopeV: 0.05 },
  crushOhm: Number.POSITIVE_INFINITY,
  reversed: false,
};

async function pilot() {
  const c = PILOT;
  const period = 1 / c.frequencyHz;
  const thermalV = (1.380649e-23 * 300.15) / 1.602176634e-19;
  const saturationA = 0.01 / Math.expm1(c.diode.dropV / c.diode.slopeV);
  const netlist = (periods, steps, tolerance) => `
vs in 0 sin(0 ${Math.SQRT2 * c.sourceVrms} ${c.frequencyHz})
rs in near ${c.sourceOhm}
c1 near 0 ${c.cableFarad / 2}
r1 near a ${c.coreOhm * c.leakAt}
l1 a leak ${c.coreHenry * c.leakAt}
rl leak 0 ${c.leakOhm}
r2 leak b ${c.coreOhm * (1 - c.leakAt)}
l2 b far ${c.coreHenry * (1 - c.leakAt)}
d1 far 0 pilot
c2 far 0 ${c.cableFarad / 2}
.model pilot d(is=${saturationA} n=${c.diode.slopeV / thermalV} rs=0 cjo=0 tt=0)
.options reltol=${tolerance} abstol=1e-12 vntol=1e-7 method=gear
.tran ${period / steps} ${periods * period} 0 ${period / steps}`;
  const current = (run) => ({ timeS: run.timeS, values: run.of('i(vs)').map((x) => -x) });
  const truth = current(await solve(netlist(2, 20_000, 1e-7)));

  const ours = await coarsest(PILOT_STEPS, (steps) => {
    const stepper = new PilotStepper(c, period / steps);
    const values = Array.from({ length: 2 * steps }, () => stepper.step());
    return worstShare({ timeS: values.map((_, k) => ((k + 1) * period) / steps), values }, truth, period);
  });
  // The engine's own default tolerance, and its step bounded until it is as accurate.
  const theirs = await coarsest(PILOT_STEPS, async (steps) =>
    worstShare(current(await solve(netlist(2, steps, 1e-3))), truth, period),
  );
  const periods = 200;
  const count = periods * ours.step;
  const oursMs = shortestMs(() => {
    const stepper = new PilotStepper(c, period / ours.step);
    for (let k = 0; k < count; k++) stepper.step();
  });
  let theirsMs = Number.POSITIVE_INFINITY;
  for (let k = 0; k < 3; k++)
    theirsMs = Math.min(theirsMs, (await solve(netlist(periods, theirs.step, 1e-3))).ms);
  const floorMs = bareMs(count);
  const perS = (ms) => (periods * period * 1000) / ms;
  const unit = (steps) => `${steps} steps a period`;
  tell(
    'Pilot loop, leak and diode',
    unit,
    { ...ours, perS: perS(oursMs) },
    { ...theirs, perS: perS(theirsMs) },
    perS(floorMs),
  );
}

/** One state, one source, one multiplication: the least a step can cost. */
function bareMs(count) {
  let sink = 0;
  const ms = shortestMs(() => {
    let v = 0;
    for (let k = 0; k < count; k++) v += 0.01 * (Math.sin(0.01 * k) - v);
    sink += v;
  });
  if (Number.isNaN(sink)) throw new Error('unreachable');
  return ms;
}

const CELL = {
  capacityAh: 100,
  slopeV: 0.94,
  r0Ohm: 1e-3,
  r1Ohm: 0.6e-3,
  tau1S: 5,
  r2Ohm: 0.4e-3,
  tau2S: 120,
};

async function pack() {
  const c = CELL;
  const endS = 1800;
  // Charging with a slow swing on it, so that every branch has something to follow.
  const meanA = 100;
  const swingA = 60;
  const swingHz = 1 / 60;
  const currentA = (t) => meanA + swingA * Math.sin(2 * Math.PI * swingHz * t);
  const startV = 3.2 + c.slopeV / 2;
  const netlist = (seconds, maxS, tolerance) => `
is 0 p sin(${meanA} ${swingA} ${swingHz})
r0 p a ${c.r0Ohm}
r1 a b ${c.r1Ohm}
c1 a b ${c.tau1S / c.r1Ohm} ic=0
r2 b d ${c.r2Ohm}
c2 b d ${c.tau2S / c.r2Ohm} ic=0
c3 d 0 ${(c.capacityAh * 3600) / c.slopeV} ic=${startV}
.options reltol=${tolerance} method=gear
.tran ${maxS} ${seconds} 0 ${maxS} uic`;
  // Over the rest volts: the rise is what the circuit is about.
  const rise = (run) => ({ timeS: run.timeS, values: run.of('v(p)').map((v) => v - startV) });
  const truth = rise(await solve(netlist(301, 0.005, 1e-7)));

  const rig = structuredClone(loadRig('depot-cable').rig.battery.raft);
  Object.assign(rig, { seriesCells: 1, parallelCells: 1, barsOhm: 0 });
  Object.assign(rig.cell, c, {
    ocv: [0, 0.5, 1].map((soc) => ({ soc, v: 3.2 + c.slopeV * soc })),
    heatCapacityJPerK: 1e12,
  });
  const make = () =>
    new Raft(rig, 'battery', { soc: 0.5, cellC: 25, ambientC: 25, spreadV: 0 }, new SeededRandom(1));
  const ours = await coarsest(PACK_STEPS_S, (stepS) => {
    const raft = make();
    const timeS = [];
    const values = [];
    for (let k = 1; k * stepS <= 300; k++) {
      raft.step(stepS, currentA((k - 0.5) * stepS));
      timeS.push(k * stepS);
      values.push(raft.emfV() + currentA(k * stepS) * raft.seriesOhm() - startV);
    }
    return worstShare({ timeS, values }, truth, 0);
  });
  const theirs = await coarsest(PACK_STEPS_S, async (maxS) =>
    worstShare(rise(await solve(netlist(300, maxS, 1e-3))), truth, 1),
  );
  const count = Math.round(endS / ours.step);
  const LOOPS = 20;
  const oursMs =
    shortestMs(() => {
      for (let n = 0; n < LOOPS; n++) {
        const raft = make();
        for (let k = 1; k <= count; k++) raft.step(ours.step, currentA((k - 0.5) * ours.step));
      }
    }) / LOOPS;
  let theirsMs = Number.POSITIVE_INFINITY;
  for (let k = 0; k < 3; k++)
    theirsMs = Math.min(theirsMs, (await solve(netlist(endS, theirs.step, 1e-3))).ms);
  const perS = (ms) => (endS * 1000) / ms;
  tell(
    'Pack, series resistance and two R-C pairs',
    (stepS) => `steps of ${stepS} s`,
    { ...ours, perS: perS(oursMs) },
    { ...theirs, perS: perS(theirsMs) },
    perS(bareMs(count * LOOPS) / LOOPS),
  );
}

export async function run() {
  await engine.start();
  say(
    `Physics: accurate to ${percent(ACCURATE_SHARE)} of the waveform's peak; shortest of ${REPEATS} runs\n`,
  );
  await pilot();
  await pack();
}
