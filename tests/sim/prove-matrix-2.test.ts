/** The other half of the whole matrix: see prove-matrix-1.test.ts. */
import { describe } from 'vitest';
import { wholeRows } from './prove-matrix.js';

describe.runIf(process.env.PROVE_MATRIX)('the whole of the matrix', () => wholeRows(1));
