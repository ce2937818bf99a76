/**
 * The one dictionary of what devices on the link report: roles, fields, units and scales.
 *
 * The codec, the simulated devices, the checks, the journal and the protocol document all read this table;
 * nothing else says what a field means. On the wire a value is a decimal integer; `scale` is the worth of
 * one count in the unit named. An empty field means "the device cannot read this": it becomes NaN here, and
 * every check is written so that NaN fails (conditions are stated positively: `ok = value <= limit`).
 */

export interface FieldDefinition {
  /** Name with the unit last, as used in code. */
  readonly name: string;
  /** Unit of the decoded value; '' for counts, flags and enumerations. */
  readonly unit: string;
  /** Worth of one count on the wire. */
  readonly scale: number;
  /** One line for firmware authors. */
  readonly text: string;
}

const field = <N extends string>(name: N, unit: string, scale: number, text: string) =>
  ({ name, unit, scale, text }) as const;

/** Every role's first field: it must change with each new sample; standing still means stale (I7). */
const sample = field('sample', '', 1, 'sensor sample counter, modulo 65536, advanced by each new sample');

/** Converter states as reported. */
export const CONVERTER_STATE = { off: 0, ready: 1, delivering: 2, fault: 3 } as const;
/** What the isolation device is connected to. */
export const ISOLATION_POINT = { off: 0, charger: 1, cable: 2, joined: 3 } as const;
/** Which pole the known resistor is switched to. */
export const ISOLATION_RESISTOR = { none: 0, positive: 1, negative: 2 } as const;

export const ROLES = {
  device: {
    tag: 'dv',
    text: 'the port itself: its clock and its latch',
    fields: [
      sample,
      field('clockMs', 'ms', 1, 'device clock at the end of the sampling cycle'),
      field('latched', '', 1, '1 while the trip latch in the device is set'),
      field('madeSafe', '', 1, '1 while the device holds itself in its make-safe sequence or its end state'),
      field('rejectedFrames', '', 1, 'frames rejected since the handshake, modulo 65536'),
    ],
  },
  converter: {
    tag: 'cv',
    text: 'the rectifier with its own measurements',
    fields: [
      sample,
      field('state', '', 1, '0 off, 1 ready (enabled, no current ordered), 2 delivering, 3 fault'),
      field('outputV', 'V', 0.1, 'output voltage, positive pole to negative pole'),
      field('outputA', 'A', 0.01, 'output current, positive into the train'),
      field('appliedSetpointA', 'A', 0.01, 'current set-point in force after its own slope'),
      field('appliedLimitV', 'V', 0.1, 'voltage limit in force'),
      field('temperatureC', 'degC', 0.1, 'hottest heat sink'),
    ],
  },
  meter: {
    tag: 'mt',
    text: 'independent meter in the charger; minimum and maximum are over all samples since the last report',
    fields: [
      sample,
      field('currentA', 'A', 0.01, 'current through pole P, positive into the train'),
      field('currentMinA', 'A', 0.01, 'least current since the last report'),
      field('currentMaxA', 'A', 0.01, 'greatest current since the last report'),
      field('outputV', 'V', 0.1, 'converter side of the contactors, pole to pole'),
      field('outputMinV', 'V', 0.1, 'least since the last report'),
      field('outputMaxV', 'V', 0.1, 'greatest since the last report'),
      field('plugV', 'V', 0.1, 'plug side of the contactors, pole to pole'),
      field('plugMinV', 'V', 0.1, 'least since the last report'),
      field('plugMaxV', 'V', 0.1, 'greatest since the last report'),
      field('outputPositiveV', 'V', 0.1, 'converter side, positive pole to chassis'),
      field('outputNegativeV', 'V', 0.1, 'converter side, negative pole to chassis (normally negative)'),
      field('plugPositiveV', 'V', 0.1, 'plug side, positive pole to chassis'),
      field('plugNegativeV', 'V', 0.1, 'plug side, negative pole to chassis (normally negative)'),
      field('cableC', 'degC', 0.1, 'cable conductor sensor'),
      field('contactC', 'degC', 0.1, 'hottest plug contact or shoe sensor'),
    ],
  },
  loop: {
    tag: 'lp',
    text: 'pilot monitor: features of the pilot current over the last window of whole pilot periods',
    fields: [
      sample,
      field('meanA', 'A', 1e-6, 'mean of the pilot current'),
      field('rmsA', 'A', 1e-6, 'root mean square of the pilot current'),
      field('peakPositiveA', 'A', 1e-6, 'greatest pilot current'),
      field('peakNegativeA', 'A', 1e-6, 'least pilot current (normally about zero or slightly negative)'),
      field('pilotOn', '', 1, '1 while the pilot source is on'),
    ],
  },
  isolation: {
    tag: 'is',
    text: 'isolation device: a low-voltage injector for a dead network, a switched known resistor for a live one',
    fields: [
      sample,
      field('point', '', 1, '0 off, 1 charger side, 2 cable side, 3 joined network'),
      field('resistor', '', 1, '0 none, 1 known resistor on positive pole, 2 on negative pole'),
      field(
        'injecting',
        '',
        1,
        '1 while the injection voltage is applied to both poles through its resistors',
      ),
      field('positiveV', 'V', 0.01, 'positive pole to chassis at the connected point'),
      field('negativeV', 'V', 0.01, 'negative pole to chassis at the connected point'),
    ],
  },
  contactor: {
    tag: 'ct',
    text: 'charger contactors: auxiliary (mirror) contacts and coil feedback',
    fields: [
      sample,
      field('closedP', '', 1, 'auxiliary of contactor P: 1 closed'),
      field('closedN', '', 1, 'auxiliary of contactor N: 1 closed'),
      field('closedPre', '', 1, 'auxiliary of the pre-charge contactor: 1 closed'),
      field('coilP', '', 1, 'coil P driven'),
      field('coilN', '', 1, 'coil N driven'),
      field('coilPre', '', 1, 'pre-charge coil driven'),
    ],
  },
  bleeder: {
    tag: 'bl',
    text: 'discharge resistors on the converter side and on the plug side',
    fields: [
      sample,
      field('outputOn', '', 1, 'output bleeder switched on'),
      field('plugOn', '', 1, 'plug bleeder switched on'),
      field('temperatureC', 'degC', 0.1, 'bleeder resistor'),
    ],
  },
  latch: {
    tag: 'la',
    text: 'plug latch, or the shoe mechanism',
    fields: [
      sample,
      field('seated', '', 1, 'plug fully seated, or shoes down on the plates'),
      field('locked', '', 1, 'plug mechanically locked, or shoe mechanism blocked'),
      field('senseP', '', 1, 'shoes: make-last sense contact of the positive shoe (empty on a cable rig)'),
      field('senseN', '', 1, 'shoes: make-last sense contact of the negative shoe (empty on a cable rig)'),
      field(
        'plateCovered',
        '',
        1,
        'shoes: 1 while no exposed plate area can be touched (empty on a cable rig)',
      ),
    ],
  },
  berth: {
    tag: 'be',
    text: 'the stand: train in place, brake, traction, protective bond',
    fields: [
      sample,
      field('atStand', '', 1, 'train at the stand'),
      field('brakeOn', '', 1, 'parking brake applied'),
      field('tractionInhibited', '', 1, 'traction inhibit confirmed by the train'),
      field('bondOhm', 'ohm', 0.001, 'resistance of the protective bond from charger to train chassis'),
    ],
  },
  train: {
    tag: 'tr',
    text: 'train side of the plug: train contactors and the train bus',
    fields: [
      sample,
      field('closedP', '', 1, 'auxiliary of the positive train contactor: 1 closed'),
      field('closedN', '', 1, 'auxiliary of the negative train contactor: 1 closed'),
      field('trainV', 'V', 0.1, 'train bus, pole to pole'),
    ],
  },
  raft: {
    tag: 'r',
    text: 'one raft (battery module group with its own management unit and contactors); tags r1, r2, …',
    fields: [
      sample,
      field('packV', 'V', 0.1, 'pack voltage on the battery side of its contactors'),
      field('packA', 'A', 0.01, 'pack current, positive charging'),
      field('joined', '', 1, 'its contactors closed to the train bus'),
      field('isolationOhm', 'ohm', 1000, 'its own isolation figure (counts of 1 kilohm)'),
      field('cellMinV', 'V', 0.001, 'lowest cell'),
      field('cellMaxV', 'V', 0.001, 'highest cell'),
      field('cellMinC', 'degC', 0.1, 'coldest cell'),
      field('cellMaxC', 'degC', 0.1, 'hottest cell'),
      field('soc', '', 0.0001, 'state of charge 0..1'),
      field('allowedA', 'A', 0.1, 'charging current its management unit allows now'),
      field('alarm', '', 1, '0 none, 1 warning, 2 stop charging'),
      field('generatorRunning', '', 1, 'generator raft: 1 while its engine runs (empty on a battery raft)'),
    ],
  },
  supply: {
    tag: 'su',
    text: 'what stands behind the rectifier',
    fields: [
      sample,
      field('ready', '', 1, 'ready to take load'),
      field('breakerClosed', '', 1, 'supply breaker closed'),
      field('frequencyHz', 'Hz', 0.01, 'frequency (empty on a DC store)'),
      field('voltageV', 'V', 0.1, 'supply voltage'),
      field('powerW', 'W', 10, 'power drawn'),
    ],
  },
  stop: {
    tag: 'st',
    text: 'reading of the hard-wired stop chain; never its replacement',
    fields: [
      sample,
      field('chainClosed', '', 1, 'hard-wired stop chain closed (healthy)'),
      field('buttonPressed', '', 1, 'an emergency-stop button is pressed or not reset'),
    ],
  },
} as const;

export type Role = keyof typeof ROLES;
export const ROLE_NAMES = Object.keys(ROLES) as readonly Role[];

/** Roles a rig assigns to ports. `device` belongs to every port and is not assigned. */
export const ASSIGNABLE_ROLES = [
  'converter',
  'meter',
  'loop',
  'isolation',
  'contactor',
  'bleeder',
  'latch',
  'berth',
  'train',
  'raft',
  'supply',
  'stop',
] as const satisfies readonly Role[];
export type AssignableRole = (typeof ASSIGNABLE_ROLES)[number];

/** Decoded values of one role, keyed by field name, in the field's unit; NaN where the device cannot read. */
export type ReadingOf<R extends Role> = {
  readonly [F in (typeof ROLES)[R]['fields'][number]['name']]: number;
};

/** Most rafts on one train; bounds every loop over rafts. */
export const MAX_RAFTS = 8;

/**
 * Phases in the order a session meets them; the index is the number sent to the device in every feed frame,
 * so that a simulated device can time a fault and a real one can show what is going on.
 */
export const PHASES = [
  'parked',
  'securing',
  'proving-presence',
  'checking-isolation',
  'joining-train',
  'matching-voltage',
  'pre-charging',
  'closing',
  'ramping',
  'holding',
  'tapering',
  'ramping-down',
  'opening',
  'parting-train',
  'bleeding',
  'released',
  'tripped-ramping-down',
  'making-safe',
  'safe',
  'not-proven-dead',
] as const;
export type Phase = (typeof PHASES)[number];
