/** Codes of the charge and its conduct: current, plausibility, heat, battery, supply, record, refusals. */
import { type CodeEntry, code } from './code-entry.js';

export const CHARGE_CODES = {
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
    'a generator raft is running on the train bus, or does not say that it stands',
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
  'not-permitted-now': code(
    'refuse',
    false,
    'the order is not permitted in this phase',
    'wait for a phase that permits it; what is for after a session needs a stop first',
  ),
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
  'plug-stuck': code(
    'refuse',
    false,
    'the plug was ordered free and is still locked',
    'free it by hand at its lock, after measuring it dead with a voltmeter proven before and after',
  ),
  'current-too-low': code(
    'refuse',
    false,
    'the current asked for is too low to charge with',
    'order a stop instead, or ask for more',
  ),
  'above-limit': code(
    'refuse',
    false,
    'the wish lies above a limit',
    'choose a wish within the limit, or have a competent person change the rig',
  ),
} as const satisfies Record<string, CodeEntry>;
