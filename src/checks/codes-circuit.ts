/** Codes of the circuit and its proofs: securing, presence, isolation, poles, residual voltage, silence. */
import { type CodeEntry, code } from './code-entry.js';

export const CIRCUIT_CODES = {
  // securing
  'berth-lost': code(
    'trip-0',
    false,
    'the train is not at the stand',
    'bring the train to the stand and start again',
  ),
  'brake-off': code('trip-0', false, 'the parking brake is not applied', 'apply the parking brake'),
  'traction-live': code(
    'trip-0',
    false,
    'traction is not inhibited',
    'have the train inhibit traction; it must confirm',
  ),
  'bond-lost': code(
    'trip-0',
    false,
    'the protective bond between charger and train is open or too high',
    'clean and fasten the bond; measure it below its limit',
  ),
  'plug-unseated': code(
    'trip-0',
    false,
    'the plug is not seated, or the shoes are not down',
    'seat the plug fully, or lower the shoes',
  ),
  'plug-unlocked': code(
    'trip-0',
    false,
    'the plug is not locked',
    'look for an obstruction at the latch; do not charge with a plug that does not lock',
  ),
  'stop-chain-open': code(
    'trip-0',
    true,
    'the hard-wired stop chain is open',
    'find who pressed it and why; reset at the button; then acknowledge by name',
  ),
  'live-at-rest': code(
    'trip-0',
    false,
    'a side that should be dead carries voltage',
    'keep away; find the source with the supply locked off',
  ),
  'pole-closed-at-rest': code(
    'trip-0',
    false,
    'a contactor reads closed at rest: it may be welded',
    'keep away; lock off the supply; have the contactor examined',
  ),
  // presence
  'loop-open': code(
    'trip-0',
    false,
    'the pilot loop is open: plug out, core broken or contact lost',
    'seat the plug; if it persists examine the pilot core and its pins',
  ),
  'loop-crushed': code(
    'trip-0',
    false,
    'the pilot loop conducts both ways: the diode is bridged, as by a crushed cable',
    'take the cable out of use and examine its whole length',
  ),
  'loop-reversed': code(
    'trip-0',
    false,
    'the pilot diode conducts the wrong way: the pilot core and its return are swapped',
    'correct the wiring of the plug or of the train socket',
  ),
  'loop-leaky': code(
    'trip-0',
    false,
    'the pilot core leaks to its return below the limit',
    'dry and examine the cable; damaged insulation is likely',
  ),
  'loop-high-resistance': code(
    'trip-0',
    false,
    'the pilot loop has too much series resistance',
    'clean the pilot pins; examine the core',
  ),
  'loop-unclear': code(
    'trip-0',
    false,
    'the pilot current fits no known condition of the loop',
    'look for induced voltage or a failing pilot source; do not charge',
  ),
  'shoe-off': code(
    'trip-0',
    false,
    'a collector shoe has lost its plate',
    'check shoe pressure, plate and track level',
  ),
  'plate-exposed': code(
    'trip-0',
    false,
    'the contact plate is not covered',
    'clear the plate cover; nobody may reach the plate',
  ),
  // isolation
  'isolation-low': code(
    'trip-0',
    false,
    'isolation to chassis is below its limit',
    'disconnect the train and find the leaking part',
  ),
  'isolation-unproven': code(
    'trip-0',
    false,
    'isolation could not be measured in the time allowed',
    'examine the isolation device; an unmeasured network is not charged',
  ),
  'stored-charge': code(
    'trip-0',
    false,
    'the capacitance of a pole to chassis stores too much energy',
    'find the added capacitance; the sum of charger and train counts',
  ),
  'raft-isolation-low': code(
    'trip-0',
    false,
    'a raft reports its own isolation below the limit',
    'leave the raft parted and examine it',
  ),
  // voltage and closing
  'polarity-reversed': code(
    'trip-0',
    false,
    'the train presents reversed polarity',
    'correct the wiring of the plug; nothing was closed',
  ),
  'match-failed': code(
    'trip-0',
    false,
    'converter and train voltage did not come within the match limit',
    'check converter and voltmeters against a third instrument',
  ),
  'precharge-resistor-shorted': code(
    'trip-0',
    false,
    'the bus rose far faster than the pre-charge resistor allows: the resistor is bridged',
    'replace the pre-charge resistor; not the load',
  ),
  'precharge-failed': code(
    'trip-0',
    false,
    'the bus did not reach the match limit in time: resistor open or the load draws current',
    'measure the pre-charge resistor and look for a load on the bus',
  ),
  'pole-not-closed': code(
    'trip-0',
    false,
    'a contactor ordered closed is not confirmed closed',
    'examine coil, supply and auxiliary contact',
  ),
  'pole-volts-differ': code(
    'trip-0',
    false,
    'auxiliaries say closed, but the volts on both sides do not agree: a pole is open',
    'do not trust the auxiliary; examine the contactor',
  ),
  'pole-dropped-out': code(
    'trip-0',
    false,
    'a contactor opened without being ordered',
    'examine coil supply and holding circuit',
  ),
  'pole-welded': code(
    'trip-0',
    false,
    'a pole ordered open is not proven open: it may be welded',
    'KEEP AWAY: plug stays locked; lock off the supply, have the contactor replaced',
  ),
  'train-contactor-not-closed': code(
    'trip-0',
    false,
    'the train contactors are not confirmed closed',
    'examine the train side',
  ),
  'train-contactor-welded': code(
    'trip-0',
    false,
    'the train holds the plug live after its contactors were asked to open',
    'KEEP AWAY: the plug is live from the train; isolate the rafts first',
  ),
  // residual voltage
  'output-not-dead': code(
    'trip-0',
    false,
    'the converter side did not bleed to a safe voltage in time',
    'KEEP AWAY: lock off; measure; the bleeder may be open',
  ),
  'plug-not-dead': code(
    'trip-0',
    false,
    'the plug side did not bleed to a safe voltage in time',
    'KEEP AWAY: the plug stays locked until measured below the safe voltage',
  ),
  'voltmeter-unproven': code(
    'trip-0',
    false,
    'a voltmeter shows dead without having followed the decay',
    'KEEP AWAY: treat as live; a dead meter reads zero too',
  ),
  'bleeder-aborted': code(
    'trip-0',
    false,
    'the volts left the decay curve: the bleeder was switched off to save it',
    'find what feeds the side being bled',
  ),
  // silence
  'link-silent': code(
    'trip-0',
    true,
    'no valid frame from a port within its deadline',
    'check cable and device; KEEP AWAY until the state is known',
  ),
  'reading-stale': code(
    'trip-0',
    true,
    'a reading is older than its deadline or its sample counter stands still',
    'check the sensor; a frozen value looks healthy',
  ),
  'device-made-safe': code(
    'trip-0',
    false,
    'the device made itself safe of its own accord',
    'read the device: its watchdog or its own protection acted',
  ),
  'order-rejected': code(
    'trip-0',
    false,
    'the device rejected an order',
    'compare the limits of device and rig',
  ),
  'order-unanswered': code('trip-0', false, 'the device did not answer an order in time', 'check the link'),
} as const satisfies Record<string, CodeEntry>;
