/**
 * A session that is going to be killed: simulated devices, a real journal file with a real fdatasync, a real latch
 * file. Says on its standard output, at once and unbuffered, how many bytes the store has confirmed.
 * Arguments: folder, seed.
 */
import { closeSync, fdatasyncSync, openSync, writeSync } from 'node:fs';
import path from 'node:path';
import { runVirtual } from '../../dist/src/rehearsal/virtual-run.js';
import { loadRig } from '../../dist/src/rig/load.js';

const [, , folder, seed] = process.argv;
const journalPath = path.join(folder, 'journal.ndjson');
const SYNC_MS = 3;
const loaded = loadRig('depot-cable');

/** Virtual time does not wait for a disk: the file is synced while it stands still. */
function newStore(clock, file) {
  const fd = openSync(file, 'wx');
  let bytes = 0;
  return {
    path: file,
    append: (text) => {
      bytes += writeSync(fd, text);
    },
    sync: (done) => {
      fdatasyncSync(fd);
      const confirmed = bytes;
      clock.after(SYNC_MS, () => {
        writeSync(1, `${confirmed}\n`);
        done(null);
      });
    },
    close: async () => closeSync(fd),
  };
}

writeSync(1, 'begun\n');
await runVirtual({
  loaded,
  scenario: { seed: Number(seed), start: {}, wish: { targetEnergyKwh: 0.02 }, inject: [], orders: [] },
  stateDir: folder,
  journalPath,
  sink: { append: () => {}, close: async () => {} },
  newStore: (clock, file) => newStore(clock, file),
});
writeSync(1, 'ended\n');
