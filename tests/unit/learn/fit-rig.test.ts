/** Sessions put together: which count, which figure is whose, and what is printed to paste. */
import { describe, expect, it } from 'vitest';
import { fitRig, type RigFit } from '../../../src/learn/fit-rig.js';
import type { LeftOut, SessionFound } from '../../../src/learn/session.js';
import { snippetOf, sourceText } from '../../../src/learn/snippet.js';
import type { Told } from '../../../src/learn/told.js';
import type { Rig } from '../../../src/rig/schema.js';
import { rigOf } from '../../sim/fixture.js';

const RIG = rigOf('depot-cable');
const NO: Told = { why: 'too short' };
const heat = (resistance: Told, timeConstant: Told = NO) => ({ resistance, timeConstant, timeConstantS: 1 });
const sure = (value: number, error = value / 1000): Told => ({ value, error });

let count = 0;
function session(is: Partial<SessionFound> & { readonly factors?: readonly number[] } = {}): SessionFound {
  const { factors = [1, 1], ...rest } = is;
  count++;
  return {
    file: `${String(count).padStart(3, '0')}.ndjson`,
    ...{ rig: 'depot', rigHash: 'a', figures: RIG, head: `seal ${count}`, rehearsal: false },
    wallMs: Date.UTC(2031, 0, count),
    rafts: factors.map((value, k) => ({ raft: `raft-${k + 1}`, factor: sure(value) })),
    ...{ cable: heat(NO), contact: heat(NO) },
    supply: { droopPercent: NO, voltageDropPercent: NO, internalOhm: NO },
    ...rest,
  };
}
const fitted = (read: readonly (SessionFound | LeftOut)[], hash: string | null = null): RigFit =>
  fitRig(read, hash)!;
const of = ({ fitted: all }: RigFit, key: string) => all.find((f) => f.key === key)!;
const R0 = 'battery.raft.cell.r0Ohm';
const CABLE = 'connection.cable.thermalResistanceKPerW';

describe('sessions that count', () => {
  it('are of the rig with the most, of as many the newest, or of the one that is meant', () => {
    const [a, b, c] = [session(), session({ rigHash: 'b' }), session()];
    expect(fitted([a, b, c]).rigHash).toBe('a');
    expect(fitted([a, b]).rigHash).toBe('b');
    expect(fitted([a, b, c], 'b')).toMatchObject({ rigHash: 'b', sessions: 1 });
    expect(fitRig([a, b, c], 'other')).toBeNull();
    expect(fitted([a, b, c]).leftOut).toEqual([
      { file: b.file, why: expect.stringMatching(/^depot with other figures/) },
    ]);
  });

  it('are no rehearsals where there are real ones', () => {
    const [real, made] = [session({ factors: [1.1] }), session({ rehearsal: true })];
    const both = fitted([real, made]);
    expect(both).toMatchObject({ sessions: 1, rehearsals: 0 });
    expect(both.leftOut).toEqual([
      { file: made.file, why: expect.stringMatching(/^a rehearsal among real/) },
    ]);
    expect(fitted([made])).toMatchObject({ sessions: 1, rehearsals: 1, leftOut: [] });
  });
});

describe('a figure', () => {
  it('of resistance rests on rafts while there are few sessions, then on sessions', () => {
    const differ = { factors: [0.9, 1.3] };
    const two = of(fitted([session(differ), session(differ)]), R0);
    expect(two.because).toBe('one factor for all three, from the scatter of 4 rafts in 2 sessions');
    expect(two.fitted).toBeCloseTo(0.024 * 1.1, 4);
    // Half 0.4 apart, four of them: 3.182 · 0.231 / 2 = 0.367.
    expect(Math.abs((two.high! / 0.024 - 1.1) / 0.367 - 1)).toBeLessThan(0.03);
    const three = of(fitted([session(differ), session(differ), session(differ)]), R0);
    expect(three.because).toBe('one factor for all three, from the scatter of 3 sessions');
    expect(three.high! / 0.024 - 1.1).toBeLessThan(0.01);
  });

  it('of heat is taken from the sessions that are long enough to tell the time as well, where there are any', () => {
    const short = session({ cable: heat(sure(0.06)) });
    const long = session({ cable: heat(sure(0.05), sure(1100)) });
    expect(of(fitted([short]), CABLE)).toMatchObject({
      fitted: 0.06,
      because: expect.stringContaining('held at 1200 s'),
    });
    const both = of(fitted([short, long]), CABLE);
    expect(both).toMatchObject({ fitted: 0.05, sessions: 1, verdict: 'apart' });
    expect(both.because).not.toContain('held');
  });

  it('that no session tells says why, the most frequent reason first', () => {
    const why = (text: string) => session({ cable: heat({ why: text }) });
    const { because, verdict } = of(fitted([why('too short'), why('no sensor'), why('no sensor')]), CABLE);
    expect({ because, verdict }).toEqual({ because: 'no sensor; too short', verdict: 'cannot-tell' });
  });
});

describe('what is printed to paste', () => {
  it('is nothing where every interval holds the value of the rig', () => {
    expect(snippetOf(fitted([session(), session()]), RIG)).toBeNull();
  });

  it('names figures, intervals, sessions and days, and takes the table along', () => {
    const overSoc = [0, 1].map((soc) => ({ soc, r0Ohm: 0.02 + 0.01 * soc, r1Ohm: 0.01, r2Ohm: 0.004 }));
    const figures: Rig = rigOf('depot-cable', (rig) => Object.assign(rig.battery.raft.cell, { overSoc }));
    const wallMs = Date.UTC(2031, 4, 6);
    const fit = fitted([
      session({ figures, factors: [1.1, 1.1], wallMs }),
      session({ figures, factors: [1.1, 1.1], wallMs: wallMs + 86_400_000 }),
    ]);
    expect(sourceText(fit)).toBe('fitted from 2 journals, 2031-05-06..2031-05-07');
    expect(snippetOf(fit, figures)).toBe(
      [
        'battery:',
        '  raft:',
        '    cell:',
        '      r0Ohm: 0.0264 # fitted from 2 journals, 2031-05-06..2031-05-07, of which 2 told it; 95 %: 0.02627 to 0.02653',
        '      r1Ohm: 0.011 # fitted from 2 journals, 2031-05-06..2031-05-07, of which 2 told it; 95 %: 0.01094 to 0.01106',
        '      r2Ohm: 0.0088 # fitted from 2 journals, 2031-05-06..2031-05-07, of which 2 told it; 95 %: 0.008755 to 0.008845',
        '      overSoc:',
        '        - { soc: 0, r0Ohm: 0.022, r1Ohm: 0.011, r2Ohm: 0.0044 }',
        '        - { soc: 1, r0Ohm: 0.033, r1Ohm: 0.011, r2Ohm: 0.0044 }',
      ].join('\n'),
    );
  });
});
