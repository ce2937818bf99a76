/** Journals of earlier versions stay readable: what was true of them when they were written is true still. */
import { readdirSync, readFileSync } from 'node:fs';
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { Audit } from '../../../src/audit/audit.js';
import { SOFTWARE } from '../../../src/host/version.js';
import { verifierWith } from '../../../src/journal/keys.js';

const FOLDER = path.resolve(import.meta.dirname, '../../data/journals-v1');
const read = (name: string): string => readFileSync(path.join(FOLDER, name), 'utf8');
const files = readdirSync(FOLDER).filter((name) => name.endsWith('.ndjson'));

interface Expected {
  readonly row: string;
  readonly records: number;
  readonly seals: number;
  readonly head: string;
  readonly invariantsBroken: readonly string[];
  readonly firstOut: string | null;
  readonly ended: string | null;
  readonly energyWh: number;
}

function seen(name: string): Expected & { readonly signed: string; readonly intact: boolean } {
  const audit = new Audit({ software: SOFTWARE, verifier: verifierWith(read('key.public.pem'), 'key') });
  audit.feed(Buffer.from(read(name)));
  const { row, records, seals, head, invariantsBroken, firstOut, outcome, energy, signed, intact } =
    audit.end();
  return {
    ...{ row, records, seals, head, invariantsBroken, signed, intact },
    firstOut: firstOut?.code ?? null,
    ended: outcome?.endReason ?? null,
    energyWh: Math.round(1000 * (energy?.toBatteryKwh ?? 0)),
  };
}

describe('journals of format version 1', () => {
  const expected = JSON.parse(read('expected.json')) as Record<string, Expected>;
  it('are all here', () => {
    expect(Object.keys(expected).sort()).toEqual(files.sort());
    expect(files.length).toBeGreaterThanOrEqual(5);
  });
  it.each(files)('%s reads as it did', (name) => {
    expect(seen(name)).toEqual({ ...expected[name], signed: 'valid', intact: true });
  });
});
