/** The unit of a key, read off its last part (house style: the unit comes last). */

/** Longest first, so that `OhmPerVolt` is not taken for `Volt`. */
const SUFFIXES: readonly (readonly [suffix: string, unit: string])[] = [
  ['ResistanceKPerW', 'K/W'],
  ['KwhPerKm', 'kWh/km'],
  ['NPerMps2', 'N/(m/s)²'],
  ['NPerMps', 'N/(m/s)'],
  ['OhmPerVolt', 'ohm/V'],
  ['KwPerS', 'kW/s'],
  ['VoltsPerA', 'V'],
  ['Percent', '%'],
  ['MPerS2', 'm/s²'],
  ['PerKwh', 'per kWh'],
  ['PerKw', 'per kW'],
  ['APerS', 'A/s'],
  ['VPerS', 'V/s'],
  ['JPerK', 'J/K'],
  ['KPerW', 'K/W'],
  ['Share', 'share 0..1'],
  ['Vrms', 'V r.m.s.'],
  ['Ohm', 'ohm'],
  ['Kwh', 'kWh'],
  ['Kmh', 'km/h'],
  ['Mm2', 'mm2'],
  ['Soc', 'share 0..1'],
  ['Ah', 'Ah'],
  ['Hz', 'Hz'],
  ['Km', 'km'],
  ['Kw', 'kW'],
  ['Kg', 'kg'],
  ['Ms', 'ms'],
  ['A', 'A'],
  ['V', 'V'],
  ['W', 'W'],
  ['S', 's'],
  ['C', 'degC'],
  ['F', 'F'],
  ['J', 'J'],
  ['K', 'K'],
  ['M', 'm'],
];

/** Unit of a key or dotted path; '' when it has none. */
export function unitOf(path: string): string {
  const key = path.slice(path.lastIndexOf('.') + 1);
  if (key === 'mm2') return 'mm2';
  for (const [suffix, unit] of SUFFIXES) if (key.endsWith(suffix) && key !== suffix) return unit;
  return '';
}

/** Units people write that are not used here; only for recognising what was meant. */
const FOREIGN = [
  'MilliOhm',
  'MOhm',
  'KOhm',
  'kOhm',
  'Amps',
  'Amp',
  'Volts',
  'Volt',
  'Seconds',
  'Sec',
  'Feet',
  'Ft',
  'Miles',
  'Mile',
  'Mi',
  'Mph',
  'Tonnes',
  'Tons',
];
const FOREIGN_SHORT = [
  'MA',
  'mA',
  'KA',
  'kA',
  'MV',
  'mV',
  'KV',
  'kV',
  'KW',
  'kW',
  'Kw',
  'MW',
  'Cm',
  'Mm',
  'Km',
  'Min',
];
const FOREIGN_TAIL = [
  'Us',
  'Uf',
  'UF',
  'MF',
  'Mf',
  'Nf',
  'NF',
  'Kj',
  'KJ',
  'KHz',
  'Khz',
  'MHz',
  'Wh',
  'Mah',
  'F',
];

/** The key without its unit, known or foreign, in lower case. */
function stems(key: string): string[] {
  const endings = [...SUFFIXES.map(([s]) => s), ...FOREIGN, ...FOREIGN_SHORT, ...FOREIGN_TAIL];
  const cut = endings
    .filter((e) => key.endsWith(e) && key.length > e.length)
    .map((e) => key.slice(0, -e.length));
  return [key, ...cut].map((s) => s.toLowerCase());
}

function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const change = row[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(change, row[j]! + 1, next[j - 1]! + 1));
    }
    row = next;
  }
  return row[b.length]!;
}

/** The known key an unknown one was probably meant for, or undefined. */
export function meantKey(unknown: string, known: readonly string[]): string | undefined {
  const own = stems(unknown);
  const sameStem = known.find(
    (k) =>
      unitOf(k) !== '' &&
      stems(k)
        .slice(1)
        .some((s) => own.includes(s)),
  );
  if (sameStem) return sameStem;
  const near = known
    .map((key) => ({ key, distance: editDistance(unknown.toLowerCase(), key.toLowerCase()) }))
    .sort((a, b) => a.distance - b.distance)[0];
  return near && near.distance <= Math.max(1, Math.floor(unknown.length / 4)) ? near.key : undefined;
}
