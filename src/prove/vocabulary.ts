/** What a proof can time and measure: names, units, and what each means. Procedures, results and pages use these. */

export const EVENT_TEXT = {
  mark: 'the fault was made (mark input)',
  relay: 'a hard-wired relay opened the coil circuit',
  watchdog: 'the device noticed the silence by itself',
  'make-safe': 'the device began to make safe',
  'converter-off': 'the converter was switched off by make-safe',
  'supply-tripped': 'the supply breaker was tripped',
  'parted-p': 'the auxiliary of pole P opened',
  'parted-n': 'the auxiliary of pole N opened',
  parted: 'the auxiliaries of both poles are open',
  finding: 'the supervisor found the fault',
  trip: 'the supervisor tripped',
  stop: 'the supervisor began to ramp down',
  released: 'the plug was freed',
  'current-zero': 'the current was below the routine break limit and stayed there',
  'output-safe': 'the output was below 60 V, pole to pole and to chassis, and stayed there',
  'plug-safe': 'the plug was below 60 V, pole to pole and to chassis, and stayed there',
} as const;
export type EventName = keyof typeof EVENT_TEXT;
export const EVENTS = Object.keys(EVENT_TEXT) as [EventName, ...EventName[]];

export const FIGURE_TEXT = {
  rampAPerS: { unit: 'A/s', text: 'steepest rise of the current over 250 ms' },
  overshootPercent: { unit: '%', text: 'greatest current above the highest set-point' },
  ripplePercent: { unit: '%', text: 'half of peak to peak within a report, while the set-point stands' },
  steadyErrorA: { unit: 'A', text: 'mean current against the set-point, while it stands' },
  peakOutputV: { unit: 'V', text: 'greatest output voltage' },
  peakOutputAfterV: { unit: 'V', text: 'greatest output voltage after the fault, above that before it' },
  peakCurrentA: { unit: 'A', text: 'greatest current' },
  residualPlugV: {
    unit: 'V',
    text: 'greatest plug voltage, pole to pole and to chassis, once the plug was freed',
  },
  silentMs: { unit: 'ms', text: 'silence after which the device acted, as it says' },
  lostRecords: { unit: '', text: 'records of the journal that were confirmed on disk and are not there' },
  plugAfterLossV: {
    unit: 'V',
    text: 'plug voltage two seconds after the session without its supervisor was over',
  },
  energisedOrders: { unit: '', text: 'orders that make something live, or more live' },
  restartOrders: { unit: '', text: 'orders that make something live, after the trip' },
  lostReports: { unit: '', text: 'reports that never came, by the counters of the devices' },
  polesClosed: { unit: '', text: 'most poles of P and N whose auxiliaries said closed at once' },
  closedAgain: { unit: '', text: 'reports that show a pole closed again after both had parted' },
  latchLost: { unit: '', text: 'reports after make-safe began that show no latch' },
} as const;
export type FigureName = keyof typeof FIGURE_TEXT;
export const FIGURES = Object.keys(FIGURE_TEXT) as [FigureName, ...FigureName[]];
