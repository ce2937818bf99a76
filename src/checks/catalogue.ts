/**
 * The one catalogue of codes: every finding, refusal and trip of a session has its entry here, and command
 * line, journal, documents and page all read it. A retired code is listed in RETIRED and never used again.
 */

/**
 * What a failing finding does once a session has left `parked`:
 * - `note`: journaled and shown
 * - `derate`: a named current limit governs; journaled and shown
 * - `stop`: controlled stop (stop category 1), nothing latched
 * - `trip-1`: ramp down with a deadline, then make safe; latched
 * - `trip-0`: make safe at once; latched
 * - `refuse`: only ever a refusal of a start or another order
 */
export type Effect = 'note' | 'derate' | 'stop' | 'trip-1' | 'trip-0' | 'refuse';

export interface CodeEntry {
  readonly effect: Effect;
  /** Failing while parked, it refuses the start. */
  readonly refusesStart: boolean;
  /** What has been seen, for people. */
  readonly text: string;
  /** What to do, or what would permit the move. */
  readonly remedy: string;
}

const code = (effect: Effect, refusesStart: boolean, text: string, remedy: string): CodeEntry => ({
  effect,
  refusesStart,
  text,
  remedy,
});

export const CATALOGUE = {
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
  // current
  'current-not-tracking': code(
    'trip-0',
    false,
    'the measured current does not follow the set-point',
    'check converter and meter',
  ),
  'current-too-steep': code(
    'trip-0',
    false,
    'the current rose more steeply than the governed ramp',
    'check the converter current loop; nothing may go on with a bang',
  ),
  'over-current': code(
    'trip-0',
    false,
    'current above the set-point or the rig limit',
    'check the converter current loop and the meter',
  ),
  'overshoot-noted': code(
    'note',
    false,
    'current passed the set-point, within tolerance',
    'watch it; retune the converter if it grows',
  ),
  'reverse-current': code(
    'trip-0',
    false,
    'current flows out of the train: the pack feeds the charger',
    'examine rectifier and blocking diode before anything is closed again',
  ),
  'converter-wont-stop': code(
    'trip-0',
    false,
    'the current did not fall when ordered; contactors opened at the deadline',
    'KEEP AWAY: lock off the supply; the converter is not under control',
  ),
  'converter-fault': code(
    'trip-0',
    true,
    'the converter reports a fault',
    'read the converter; clear its fault there',
  ),
  'over-voltage': code('trip-0', false, 'voltage above its limit', 'check the voltage loop of the converter'),
  'load-dump': code(
    'trip-0',
    false,
    'voltage jumped as load fell away',
    'find what disconnected; check contactors and rafts',
  ),
  // plausibility
  'meter-disagrees': code(
    'trip-0',
    false,
    'independent meter and converter disagree on the current',
    'calibrate; do not charge with instruments that disagree',
  ),
  'rafts-disagree': code(
    'trip-0',
    false,
    'the sum of raft currents disagrees with the meter',
    'look for a leakage path or a wrong sensor',
  ),
  'volts-disagree': code(
    'trip-0',
    false,
    'voltages round the circuit do not agree',
    'calibrate the voltmeters',
  ),
  // heat
  'cable-derated': code(
    'derate',
    false,
    'the cable governs the current',
    'it cools by itself; consider a larger section',
  ),
  'cable-hot': code(
    'trip-1',
    false,
    'cable conductor above its limit',
    'let it cool; lay it out, not coiled; check its section',
  ),
  'contact-derated': code(
    'derate',
    false,
    'the contact governs the current',
    'clean the contact at the next opportunity',
  ),
  'contact-hot': code(
    'trip-1',
    false,
    'plug or shoe contact above its limit',
    'let it cool; examine the contact faces',
  ),
  'contact-drop': code(
    'trip-1',
    false,
    'voltage drop across the contact above its limit',
    'examine contact faces and pressure',
  ),
  // battery
  'cell-too-high': code(
    'trip-0',
    true,
    'a cell is above its hard voltage limit',
    'let the pack rest; have the battery examined',
  ),
  'cell-too-low': code(
    'trip-0',
    true,
    'a cell is below its least voltage for charging',
    'have the battery examined before it is charged',
  ),
  'cell-too-hot': code(
    'trip-1',
    true,
    'a cell is above its charging temperature',
    'restore cooling and let it cool',
  ),
  'cell-too-cold': code(
    'trip-1',
    true,
    'a cell is below its charging temperature',
    'warm the battery first; charging plates metal on the anode',
  ),
  'cell-spread': code('trip-1', true, 'the cells of a raft have drifted too far apart', 'balance the raft'),
  'at-ceiling': code(
    'refuse',
    true,
    'the battery is already at its ceiling; room is kept for regeneration',
    'run the train; the ceiling is a setting of the rig',
  ),
  'battery-alarm': code(
    'trip-0',
    true,
    'the battery management demands that charging stops',
    'read the battery management',
  ),
  'battery-warning': code('note', false, 'the battery management warns', 'read the battery management'),
  'raft-left-out': code(
    'note',
    false,
    'a raft was left out: joining it would exceed its join-current limit',
    'it may join when the volts have come together',
  ),
  'raft-dropped': code(
    'derate',
    false,
    'a raft parted during the charge; the rest carry less',
    'examine the raft before the next charge',
  ),
  'raft-silent': code('trip-1', false, 'a joined raft gives no fresh readings', 'check its communication'),
  'no-raft-joined': code('trip-0', false, 'no raft could be joined', 'examine the rafts'),
  'generator-running': code(
    'trip-1',
    true,
    'a generator raft is running on the train bus',
    'stop the generator before charging',
  ),
  // supply
  'supply-not-ready': code(
    'trip-1',
    true,
    'the supply is not ready or its breaker is open',
    'start the set or close the breaker',
  ),
  'supply-derated': code(
    'derate',
    false,
    'the supply governs the current',
    'it recovers by itself; check the governor if it recurs',
  ),
  'supply-sagging': code(
    'trip-1',
    false,
    'the supply did not recover although the current was folded back',
    'check the engine, its governor and voltage regulator',
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
    false,
    'no valid frame from a port within its deadline',
    'check cable and device; KEEP AWAY until the state is known',
  ),
  'reading-stale': code(
    'trip-0',
    false,
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
  // record
  'journal-lag': code(
    'stop',
    false,
    'the journal lags behind: what is not recorded is not done',
    'use a faster disk',
  ),
  'journal-failed': code(
    'trip-1',
    false,
    'the journal cannot be written',
    'free the disk; nothing energises without a record',
  ),
  // conduct of the session
  'phase-overdue': code(
    'trip-0',
    false,
    'a phase did not finish within its time',
    'see the last readings of that phase',
  ),
  'trip-now': code(
    'trip-0',
    false,
    'a person ordered trip now',
    'ask that person; this order is not the emergency stop',
  ),
  'internal-fault': code('trip-0', false, 'the supervisor itself failed', 'keep the journal and report it'),
  latched: code(
    'refuse',
    true,
    'a trip is latched for this rig',
    'find the cause, then: loopwarden acknowledge --rig F --by NAME',
  ),
  'device-latched': code(
    'refuse',
    true,
    'the device holds a trip latch',
    'acknowledge with the device connected: loopwarden acknowledge --rig F --port PATH --by NAME',
  ),
  'unfinished-journal': code(
    'refuse',
    true,
    'an earlier session of this rig ended without a record of its end',
    'read that journal, find the state, then acknowledge by name',
  ),
  'no-handshake': code(
    'refuse',
    true,
    'the device did not answer the handshake',
    'check port, baud rate and device',
  ),
  'device-limits': code(
    'refuse',
    true,
    'the rig claims more than the device allows, or the device does not match the rig',
    'correct the rig or fit the right device',
  ),
  'not-permitted-now': code('refuse', false, 'the order is not permitted in this phase', 'see the phase'),
  'cause-present': code(
    'refuse',
    false,
    'the cause of the trip is still present',
    'remove the cause, then acknowledge again',
  ),
  'not-proven-dead': code(
    'refuse',
    false,
    'the end state is not proven dead',
    'KEEP AWAY; prove poles open and both sides below the safe voltage',
  ),
  'above-limit': code(
    'refuse',
    false,
    'the wish lies above a limit',
    'choose a wish within the limit, or have a competent person change the rig',
  ),
} as const satisfies Record<string, CodeEntry>;

export type Code = keyof typeof CATALOGUE;
export const CODES = Object.keys(CATALOGUE) as readonly Code[];

/** Codes once used and never to be used again. */
export const RETIRED: readonly string[] = [];
