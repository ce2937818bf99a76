/** Figures, ages and times as people read them. What cannot be read is said so, never written as 0. */

export const NOT_READ = 'not read';

/** How the units of the contract are written. */
const SIGNS: Record<string, string> = { degC: '°C', ohm: 'Ω' };
/** Decimals that mean something on a screen, by unit. */
const DECIMALS: Record<string, number> = {
  V: 1,
  A: 1,
  degC: 1,
  Hz: 2,
  s: 1,
  ms: 0,
  J: 2,
  kWh: 2,
  'A/s': 1,
  mA: 2,
};
/** Currents held against less than this are told in mA. */
const MILLI_BELOW_A = 0.1;

/** So many decimals; what is rounded to nothing has no sign. */
export const fixed = (value: number, decimals: number): string =>
  value.toFixed(decimals).replace(/^-(?=0(\.0*)?$)/, '');

/** Four digits are enough for any figure that has no decimals of its own. */
function digits(value: number): string {
  const size = Math.abs(value);
  if (size >= 1000 || Number.isInteger(value)) return value.toFixed(0);
  return String(Number(value.toPrecision(4)));
}

/** A figure with its unit: large resistances in kΩ and MΩ, shares in %. */
export function figure(value: number | null | undefined, unit: string): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return NOT_READ;
  if (unit === 'ohm' && Math.abs(value) >= 1e6) return `${digits(value / 1e6)} MΩ`;
  if (unit === 'ohm' && Math.abs(value) >= 1e3) return `${digits(value / 1e3)} kΩ`;
  if (unit === 'share') return `${fixed(value * 100, 1)} %`;
  const decimals = DECIMALS[unit];
  const text = decimals === undefined ? digits(value) : fixed(value, decimals);
  return unit === '' ? text : `${text} ${SIGNS[unit] ?? unit}`;
}

/** How old a reading is; more than a second old is told in seconds. */
export function age(ms: number | null | undefined): string {
  if (ms === null || ms === undefined || !Number.isFinite(ms)) return 'age not known';
  if (ms < 1000) return `${Math.round(ms)} ms old`;
  if (ms < 10_000) return `${(ms / 1000).toFixed(1)} s old`;
  if (ms < 60_000) return `${Math.floor(ms / 1000)} s old`;
  if (ms < 3_600_000) return `${Math.floor(ms / 60_000)} min old`;
  return `${Math.floor(ms / 3_600_000)} h old`;
}

const two = (n: number): string => String(n).padStart(2, '0');

/** Session time: 4:07, 1:04:07; with `thousandths` 4:07.250. */
export function sessionTime(ms: number | null, thousandths = false): string {
  if (ms === null || !Number.isFinite(ms)) return '–';
  const sign = ms < 0 ? '−' : '';
  const whole = thousandths ? Math.floor(Math.abs(ms)) : Math.round(Math.abs(ms) / 1000) * 1000;
  const s = Math.floor(whole / 1000);
  const hours = Math.floor(s / 3600);
  const minutes = Math.floor(s / 60) % 60;
  const front = hours > 0 ? `${hours}:${two(minutes)}` : String(minutes);
  const end = thousandths ? `.${String(whole % 1000).padStart(3, '0')}` : '';
  return `${sign}${front}:${two(s % 60)}${end}`;
}

/** How long something lasts: 40 s, 12 min 5 s, 1 h 4 min. */
export function lasting(seconds: number | null): string {
  if (seconds === null || !Number.isFinite(seconds)) return '–';
  const s = Math.floor(seconds);
  if (s < 60) return `${s} s`;
  if (s < 3600) return `${Math.floor(s / 60)} min ${s % 60} s`;
  return `${Math.floor(s / 3600)} h ${Math.floor(s / 60) % 60} min`;
}

const WALL = new Intl.DateTimeFormat('en-GB', {
  hour: '2-digit',
  minute: '2-digit',
  second: '2-digit',
  fractionalSecondDigits: 3,
  hourCycle: 'h23',
});
const CLOCK = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
/** Time of day to the millisecond, in the zone of whoever looks. */
export const wallTime = (ms: number): string => WALL.format(ms);
export const clockTime = (ms: number): string => CLOCK.format(ms);

/** `tripped-ramping-down` where the server gave no better words. */
export const plain = (name: string): string => name.replaceAll('-', ' ');

/** What was read, what it is held against and where that is set. Flags have no unit and read 0 or 1. */
export function against(
  s: Readonly<{ reading: number | null; limit: number | null; unit: string; setting: string }>,
): string {
  const from = s.setting === '' ? '' : ` (${s.setting})`;
  if (s.reading === null && s.limit === null) return s.setting === '' ? '' : `set by ${s.setting}`;
  // A pilot's current would read 0.0 A, and so would its limit.
  const small = s.unit === 'A' && Math.abs(s.limit ?? s.reading ?? MILLI_BELOW_A) < MILLI_BELOW_A;
  const told = (value: number | null): string =>
    small && value !== null ? figure(value * 1000, 'mA') : figure(value, s.unit);
  return `reads ${told(s.reading)}, limit ${told(s.limit)}${from}`;
}
