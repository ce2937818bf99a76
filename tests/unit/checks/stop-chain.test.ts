/** The reading of the stop chain: one sample, parked or live. */
import { expect, it } from 'vitest';
import { stopChain } from '../../../src/checks/stop-chain.js';
import { Run, Scene } from './build.js';

it('acts on the first open sample and lets go when it is closed', () => {
  const run = new Run(stopChain, new Scene().charging(200)).reports(3);
  expect(run.failing).toEqual([]);
  expect(
    run.reports(1, (s) => {
      s.stop.chainClosed = 0;
    }).failing,
  ).toEqual(['stop-chain-open']);
  expect(
    run.reports(1, (s) => {
      s.stop.chainClosed = 1;
    }).failing,
  ).toEqual([]);
});
it('takes a pressed button and an unreadable chain for open, also while parked', () => {
  const run = new Run(stopChain, new Scene()).reports(1, (s) => {
    s.stop.buttonPressed = 1;
  });
  expect(run.failing).toEqual(['stop-chain-open']);
  const blind = new Run(stopChain, new Scene()).reports(1, (s) => {
    s.stop.chainClosed = Number.NaN;
  });
  expect(blind.failing).toEqual(['stop-chain-open']);
});
