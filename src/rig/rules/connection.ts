/** Cable, contacts and pilot loop. */
import { cableRatingA, sectionFor, serviceLimitC, steadyConductorC } from '../ratings.js';
import { num, type Rule } from './rule.js';

/** Copper begins to soften at this drop across a contact. From memory, unverified. */
const SOFTENING_V = 0.12;
/** Mains and their harmonics stay at least this far from the pilot frequency. Common practice, no source. */
export const PILOT_GUARD_HZ = 5;
/** Highest DC that may be touched without further protection; bounds the pilot source too. */
const TOUCH_V = 60;

const cableCarries: Rule = ({ connection }, fault) => {
  const { cable, ratedCurrentA } = connection;
  const ratingA = cableRatingA(cable, cable.ambientC);
  if (ratingA >= ratedCurrentA) return;
  const laid = cable.drumLayers > 0 ? `${cable.drumLayers} layers on a drum` : 'laid out';
  const found = Number.isNaN(ratingA)
    ? `there is no rating for ${cable.mm2} mm² at ${cable.ambientC} °C, ${laid}`
    : `${cable.coresPerPole} × ${cable.mm2} mm² carries ${num(ratingA)} A at ${cable.ambientC} °C, ${laid}`;
  const section = sectionFor(ratedCurrentA, cable, cable.ambientC);
  const advice = section
    ? `take ${section} mm² or more`
    : 'no section of the table carries it: lay it out, or take less';
  fault(
    'connection.cable.mm2',
    `${found} (BS 7671 4F2A), connection.ratedCurrentA is ${ratedCurrentA} A: ${advice}`,
  );
};

const coresApart: Rule = ({ connection }, _fault, warn) => {
  if (connection.cable.coresPerPole === 1) return;
  warn(
    'connection.cable.coresPerPole',
    'two cores a pole are counted at twice the rating of one: no grouping factor is applied, lay them apart',
  );
};

const conductorHeat: Rule = ({ connection }, fault, warn) => {
  const { cable, ratedCurrentA } = connection;
  const bears = serviceLimitC(cable.insulation);
  if (!(cable.maxConductorC <= bears)) {
    fault(
      'connection.cable.maxConductorC',
      `${num(cable.maxConductorC)} °C is above what ${cable.insulation} bears, ${bears} °C (IEC 60364-5-54)`,
    );
  }
  if (!(cable.derateFromC < cable.maxConductorC)) {
    fault(
      'connection.cable.derateFromC',
      `derating from ${num(cable.derateFromC)} °C must begin below maxConductorC, ${num(cable.maxConductorC)} °C`,
    );
  }
  const settlesC = steadyConductorC(cable, ratedCurrentA, cable.ambientC);
  if (!(settlesC <= cable.maxConductorC)) {
    fault(
      'connection.cable.thermalResistanceKPerW',
      `at ${num(ratedCurrentA)} A and ${cable.ambientC} °C the conductor settles at ${num(settlesC)} °C, above ` +
        `maxConductorC ${num(cable.maxConductorC)} °C: the figure or the rating is wrong`,
    );
  } else if (settlesC > cable.derateFromC) {
    warn(
      'connection.cable.derateFromC',
      `at the rated current the conductor settles at ${num(settlesC)} °C: long sessions will be derated`,
    );
  }
};

const contactHeat: Rule = ({ connection }, fault, warn) => {
  const { contact, cable, ratedCurrentA } = connection;
  if (!(contact.derateFromC < contact.maxC)) {
    fault(
      'connection.contact.derateFromC',
      `derating from ${num(contact.derateFromC)} °C must begin below maxC, ${num(contact.maxC)} °C`,
    );
  }
  const dropV = contact.resistanceOhm * ratedCurrentA;
  if (!(dropV < contact.maxDropV)) {
    fault(
      'connection.contact.maxDropV',
      `a new contact of ${num(contact.resistanceOhm)} ohm drops ${num(dropV)} V at ${num(ratedCurrentA)} A, not ` +
        `less than ${num(contact.maxDropV)} V: it would trip on its first day`,
    );
  }
  if (contact.maxDropV > SOFTENING_V) {
    warn(
      'connection.contact.maxDropV',
      `copper begins to soften at ${SOFTENING_V} V across a contact (from memory, unverified)`,
    );
  }
  const settlesC = cable.ambientC + ratedCurrentA * dropV * contact.thermalResistanceKPerW;
  if (settlesC > contact.derateFromC) {
    warn(
      'connection.contact.derateFromC',
      `at the rated current a new contact settles at ${num(settlesC)} °C: long sessions will be derated`,
    );
  }
};

const pilotWhereItBelongs: Rule = (rig, fault) => {
  const { kind } = rig.connection;
  if (kind === 'cable' && !rig.pilot) fault('pilot', 'a cable rig needs its pilot loop: add `pilot`');
  if (kind === 'shoes' && rig.pilot) {
    fault('pilot', 'a shoes rig has no pilot loop (presence is read from sense contacts): remove `pilot`');
  }
};

/** Distance to the nearest whole multiple of a frequency, Hz. */
const offHarmonicHz = (frequencyHz: number, mainsHz: number): number =>
  Math.abs(frequencyHz - Math.max(1, Math.round(frequencyHz / mainsHz)) * mainsHz);

const pilotFrequency: Rule = ({ pilot, link }, fault) => {
  if (!pilot) return;
  for (const mainsHz of [50, 60]) {
    const offHz = offHarmonicHz(pilot.frequencyHz, mainsHz);
    if (offHz >= PILOT_GUARD_HZ) continue;
    fault(
      'pilot.frequencyHz',
      `${num(pilot.frequencyHz)} Hz lies ${num(offHz)} Hz from a multiple of ${mainsHz} Hz, keep ` +
        `${PILOT_GUARD_HZ} Hz away or the mains is taken for the pilot`,
    );
  }
  const windowMs = (1000 * pilot.periodsPerWindow) / pilot.frequencyHz;
  if (windowMs <= link.periodMs) return;
  fault(
    'pilot.periodsPerWindow',
    `${pilot.periodsPerWindow} periods of ${num(pilot.frequencyHz)} Hz take ${num(windowMs)} ms, link.periodMs is ` +
      `${link.periodMs} ms: a report would hold half a window; take fewer periods or a higher frequency`,
  );
};

const pilotLimits: Rule = ({ pilot }, fault) => {
  if (!pilot) return;
  if (!(pilot.coreOhm < pilot.maxSeriesOhm)) {
    fault(
      'pilot.maxSeriesOhm',
      `${num(pilot.maxSeriesOhm)} ohm must be above the new loop, pilot.coreOhm ${num(pilot.coreOhm)} ohm`,
    );
  }
  if (!(pilot.minShuntOhm < pilot.genuineShuntOhm)) {
    fault(
      'pilot.genuineShuntOhm',
      `${num(pilot.genuineShuntOhm)} ohm must be above minShuntOhm, ${num(pilot.minShuntOhm)} ohm`,
    );
  }
  const peakV = pilot.sourceVrms * Math.SQRT2;
  if (!(peakV <= TOUCH_V)) {
    fault('pilot.sourceVrms', `its peak, ${num(peakV)} V, is above ${TOUCH_V} V: the pin can be touched`);
  }
};

export const CONNECTION_RULES: readonly Rule[] = [
  cableCarries,
  coresApart,
  conductorHeat,
  contactHeat,
  pilotWhereItBelongs,
  pilotFrequency,
  pilotLimits,
];
