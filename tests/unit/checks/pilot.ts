/** The pilot of the tests of recorded currents: a core of 20 Ω, else as the depot has it. */
export const pilot = {
  sourceVrms: 12,
  sourceOhm: 1000,
  frequencyHz: 80,
  coreOhm: 20,
  diodeDropV: 0.7,
  samplesPerPeriod: 50,
  periodsPerWindow: 4,
  maxSeriesOhm: 45,
  minShuntOhm: 1250,
  genuineShuntOhm: 3000,
};
export const PEAK_V = 12 * Math.SQRT2;
