/** A fitted cell as YAML for a rig file: the block `battery.raft.cell`. Pure: text out. */
import type { RaftFit } from './raft-fit.js';
import { hysteresisV, openCircuitV, raftPoint, temperatureFactor } from './raft-parameters.js';

export interface BlockOptions {
  /** As shown to people. */
  readonly recording: string;
  readonly chemistry: string;
  /** Rig file this one is to be laid over, relative to itself; null: the block alone. */
  readonly extendsFile: string | null;
  readonly name: string;
  /** What a recording of volts and amps cannot tell. */
  readonly heatCapacityJPerK: number;
  readonly thermalResistanceKPerW: number;
}

const OCV_STEP = 0.025;
const RESISTANCE_SOCS = [0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1] as const;
const TEMPERATURES_C = [-20, -10, 0, 10, 25, 35, 45, 60] as const;
const COLD_C = 0;
const REFERENCE_C = 25;
/** The simulated cell turns its hysteresis round in as much as the fitted one. */
const TURNS_OVER_SHARE = 0.05;
/** A rig takes no resistance of nought. */
const LEAST_OHM = 1e-9;

export function raftBlock(fit: RaftFit, options: BlockOptions): string {
  const { shape } = fit;
  const middle = raftPoint(fit, 0.5);
  const head =
    options.extendsFile === null
      ? []
      : [
          `extends: ${options.extendsFile}`,
          `name: ${options.name}`,
          `title: A raft of cells as fitted to ${options.recording}`,
        ];
  const doublingK = (REFERENCE_C - COLD_C) / Math.log2(temperatureFactor(fit, COLD_C));
  // Open-circuit volts never fall with charge; a fit may, by a hair, where nothing was recorded.
  let highest = 0;
  const ocv = steps(OCV_STEP).map((soc) => {
    highest = Math.max(highest, openCircuitV(fit, soc));
    return `        - { soc: ${plain(soc)}, v: ${highest.toFixed(4)} }`;
  });
  const over = RESISTANCE_SOCS.map((soc) => {
    const at = raftPoint(fit, soc);
    const [r0, r1, r2] = [at.r0Ohm, at.r1Ohm, at.r2Ohm].map((r) => plain(Math.max(LEAST_OHM, r.value)));
    return `        - { soc: ${plain(soc)}, r0Ohm: ${r0}, r1Ohm: ${r1}, r2Ohm: ${r2} }`;
  });
  const hysteresis = RESISTANCE_SOCS.map((soc) => {
    return `          - { soc: ${plain(soc)}, v: ${Math.max(0, hysteresisV(fit, soc)).toFixed(5)} }`;
  });
  const factors = TEMPERATURES_C.map((cellC) => {
    return `        - { cellC: ${cellC}, factor: ${plain(temperatureFactor(fit, cellC))} }`;
  });
  return [
    '# LIVE DC KILLS. Fitted from a recording by loopwarden, which is not a safety function; a competent person must',
    '# confirm every figure. Resistances of one cell at 25 °C; heat is not fitted.',
    fit.activationFitted
      ? '# The factor of the temperature is fitted, from recordings at several temperatures.'
      : '# The factor of the temperature is not fitted but typical: one temperature tells nothing of it.',
    ...head,
    'battery:',
    '  raft:',
    '    cell:',
    `      chemistry: ${JSON.stringify(options.chemistry)}`,
    `      ocvSource: ${JSON.stringify(`fitted to ${options.recording}`)}`,
    '      ocv:',
    ...ocv,
    `      capacityAh: ${plain(shape.capacityAh)}`,
    '      # At half charge; the table below holds for the simulator.',
    `      r0Ohm: ${plain(Math.max(LEAST_OHM, middle.r0Ohm.value))}`,
    `      r1Ohm: ${plain(Math.max(LEAST_OHM, middle.r1Ohm.value))}`,
    `      tau1S: ${plain(shape.tau1S)}`,
    `      r2Ohm: ${plain(Math.max(LEAST_OHM, middle.r2Ohm.value))}`,
    `      tau2S: ${plain(shape.tau2S)}`,
    `      coldDoublingK: ${plain(doublingK)}`,
    '      overSoc:',
    ...over,
    '      overTemperature:',
    ...factors,
    '      hysteresis:',
    `        turnsOverShare: ${TURNS_OVER_SHARE}`,
    '        over:',
    ...hysteresis,
    `      heatCapacityJPerK: ${plain(options.heatCapacityJPerK)}`,
    `      thermalResistanceKPerW: ${plain(options.thermalResistanceKPerW)}`,
    '',
  ].join('\n');
}

const steps = (step: number): number[] =>
  Array.from({ length: Math.round(1 / step) + 1 }, (_, k) => k * step);

/** Five digits, never an exponent that YAML would read as text. */
function plain(value: number): string {
  const text = String(Number(value.toPrecision(5)));
  return text.includes('e') ? value.toFixed(12) : text;
}
