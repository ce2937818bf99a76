/** The other half of the weaknesses: see prove-matrix-1.test.ts. */
import { describe } from 'vitest';
import { halfOfMatrix } from './prove-matrix.js';

describe('a charger, the other half', () => halfOfMatrix(1));
