import { test } from 'vitest';
import { SeededRandom } from '/work/main/simulators/seeded-random.js';
import { isolationFromCurve } from '/work/main/src/checks/isolation-curve.js';
import { drawNetwork, recordPoles, settlingS } from '/work/main/tests/reference/isolation-bench.js';
test('x', () => {
  const random = new SeededRandom(42);
  const bench = { knownOhm: 75e3, meterOhm: 10e6, packV: 750, noiseV: 0.05, noiseShare: 1e-3, bits: 12 };
  let worstL = 0, worstP = 0, cov = {l:0,p:0,b:0,pb:0,f:0,n:0, lmin: 9e9, hi:0}; let t0 = performance.now(), tf=0;
  for (let i = 0; i < 150; i++) {
    const net = drawNetwork(random, i);
    const tau = settlingS(net, bench);
    const N = 150;
    const rec = recordPoles(net, bench, [{at:'pos',seconds:1.5*tau},{at:'neg',seconds:1.5*tau}], 1.5*tau/N, 100, random.between(0,750), random);
    const t1=performance.now();
    const r = isolationFromCurve(rec, bench);
    tf+=performance.now()-t1;
    const low = Math.min(net.positiveOhm, net.negativeOhm), par = 1/(1/net.positiveOhm+1/net.negativeOhm);
    const el = Math.abs(r.lowerOhm.value/low-1), ep = Math.abs(r.parallelOhm.value/par-1);
    cov.n++;
    if (low>=r.lowerOhm.atLeast && low<=r.lowerOhm.atMost) cov.l++;
    if (par>=r.parallelOhm.atLeast && par<=r.parallelOhm.atMost) cov.p++;
    if (low>=r.lowerOhm.atLeast) cov.b++;
    if (par>=r.parallelOhm.atLeast) cov.pb++;
    const C = net.positiveF+net.negativeF;
    if (i<12) console.log(C, r.totalFarad, (r.totalFarad.value/C-1)/(r.totalFarad.uncertainty/C/1.96));
    if (C>=r.totalFarad.atLeast && C<=r.totalFarad.atMost) cov.f++;
    if (low>1e6) { cov.hi++; cov.lmin=Math.min(cov.lmin, r.lowerOhm.atLeast); }
    if (low<=1e6) { if (el>0.015) console.log('L', el, net, r.lowerOhm); worstL=Math.max(worstL,el); }
    if (par<=1e6) { if (ep>0.015) console.log('P', ep, net, r.parallelOhm); worstP=Math.max(worstP,ep);}
  }
  console.log({worstL, worstP, cov, ms: performance.now()-t0, tf});
}, 300000);
