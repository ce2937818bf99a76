/** Figures for a monitoring system, in the Prometheus text format. Nothing in here can order anything. */
import { Gauge, Registry } from 'prom-client';
import { PHASES } from '../rig/roles.js';
import type { Context } from './context.js';

/** @returns the text of the moment, and its content type */
export function metricsOf(context: Context): { readonly type: string; text(): Promise<string> } {
  const { stand, hub, watch } = context;
  const registry = new Registry();
  registry.setDefaultLabels({ rig: stand.loaded.rig.name });
  const gauge = (name: string, help: string, value: () => number): void => {
    const made: Gauge = new Gauge({
      name: `loopwarden_${name}`,
      help,
      registers: [registry],
      collect: () => made.set(value()),
    });
  };
  const seen = () => stand.session?.display.seen ?? null;
  gauge('session_running', '1 while a session is under way', () => Number(stand.running !== null));
  gauge('session_tripped', '1 once the session under way or the last one has tripped', () =>
    Number(stand.session?.tripped ?? false),
  );
  gauge('trip_latched', '1 while a trip latch stands on disk', () => Number(stand.latch.trip !== null));
  gauge('output_volts', 'converter side, pole to pole', () => seen()?.meter?.value.outputV ?? Number.NaN);
  gauge('plug_volts', 'plug side, pole to pole', () => seen()?.meter?.value.plugV ?? Number.NaN);
  gauge(
    'current_amperes',
    'through pole P, positive into the train',
    () => seen()?.meter?.value.currentA ?? Number.NaN,
  );
  gauge('setpoint_amperes', 'current set-point', () => stand.session?.display.setpointA ?? Number.NaN);
  gauge('cable_celsius', 'cable conductor', () => seen()?.meter?.value.cableC ?? Number.NaN);
  gauge('contact_celsius', 'hottest contact', () => seen()?.meter?.value.contactC ?? Number.NaN);
  gauge('reading_age_seconds', 'age of the newest meter reading when it was last looked at', () => {
    const ageMs = seen()?.meter?.ageMs;
    return ageMs === undefined ? Number.NaN : ageMs / 1000;
  });
  gauge(
    'energy_to_battery_kwh',
    'of the session under way or the last one',
    () => stand.session?.display.energyKwh ?? Number.NaN,
  );
  gauge('streams', 'pages that watch', () => hub.count);
  gauge('events', 'number of the newest event', () => watch.events.last);
  const phases: Gauge = new Gauge({
    name: 'loopwarden_phase',
    help: '1 for the phase of the session',
    labelNames: ['phase'],
    registers: [registry],
    collect: () => {
      const now = stand.session?.phase ?? 'parked';
      for (const phase of PHASES) phases.set({ phase }, Number(phase === now));
    },
  });
  return { type: registry.contentType, text: () => registry.metrics() };
}
