/** All invariants at observation level, in order. */
import { I1 } from './i01-contactors.js';
import { I2 } from './i02-authority.js';
import { I3 } from './i03-set-point.js';
import { I4 } from './i04-trips.js';
import { I5 } from './i05-plug.js';
import { I6 } from './i06-restart.js';
import { I7 } from './i07-age.js';
import { I8 } from './i08-frames.js';
import { I9 } from './i09-window.js';
import { I10 } from './i10-ends.js';
import { I11 } from './i11-journal.js';
import { I12 } from './i12-fixed.js';
import type { Invariant } from './watch.js';

export const OBSERVED: readonly Invariant[] = [I1, I2, I3, I4, I5, I6, I7, I8, I9, I10, I11, I12];
