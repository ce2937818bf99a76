/** The certificate as the command writes it, held against the files beside it: hashes, and the records it names. */
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { DatedProof } from '../../src/prove/calibration.js';
import { shownEvents } from '../../src/prove/certificate/trip-plot.js';
import { textOf } from '../unit/certificate/proofs.js';
import { type Ended, endAll, Process, temporaryFolder } from './process.js';

const sha256 = (bytes: Buffer): string => createHash('sha256').update(bytes).digest('hex');
const prove = (...args: string[]): Promise<Ended> =>
  new Process(['prove', '--rig', 'depot-cable', '--procedure', 'emergency-stop', ...args]).ended;

afterAll(endAll);

describe('prove', () => {
  let ended: Ended;
  let folder = '';
  let html = '';
  beforeAll(async () => {
    folder = path.join(temporaryFolder(), 'proof');
    ended = await prove('--repeat', '1', '--out', folder);
    html = readFileSync(path.join(folder, 'certificate.html'), 'utf8');
  }, 120_000);

  it('writes the certificate beside the results and says where', () => {
    expect(ended.code).toBe(0);
    expect(ended.stdout).toContain('certificate.html');
    expect(html).toContain('<title>Certificate of proof: depot-cable (SIMULATED)</title>');
  });

  it('numbers it by the hash of proof.json as it lies there', () => {
    expect(textOf(html)).toContain(sha256(readFileSync(path.join(folder, 'proof.json'))));
  });

  it('names journals by the hash they have, and records in which the figures stand', () => {
    const proof = JSON.parse(readFileSync(path.join(folder, 'proof.json'), 'utf8')) as DatedProof;
    const steps = proof.procedures.flatMap((p) => p.steps);
    const text = textOf(html);
    let held = 0;
    for (const { journals, trace } of steps)
      for (const { file, sha256: told } of journals) {
        const bytes = readFileSync(path.join(folder, file));
        expect(sha256(bytes)).toBe(told);
        expect(text).toContain(`${file} ${told}`);
        const records = bytes
          .toString()
          .split('\n')
          .filter((line) => line !== '')
          .map((line) => JSON.parse(line) as { n: number; k: string; b: unknown });
        for (const { name, n } of trace === null ? [] : shownEvents(trace)) {
          expect(text).toContain(`(record ${n})`);
          const { k, b } = records.find((r) => r.n === n) ?? { k: 'none', b: null };
          if (name === 'trip' || name === 'finding') expect(k).toBe(name);
          if (name === 'relay' || name === 'mark') expect(String((b as string[])[1])).toContain(`,${name},`);
          held++;
        }
      }
    expect(held).toBeGreaterThan(5);
  });

  it('refuses a calibration that counts for no time at all', async () => {
    const refused = await prove('--calibration-months', '0');
    expect(refused.code).toBe(2);
    expect(refused.stderr).toContain('--calibration-months');
    expect(refused.stderr).not.toContain('    at ');
  });
});
