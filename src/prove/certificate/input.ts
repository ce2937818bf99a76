/** What a certificate is made of. */
import type { LoadedRig } from '../../rig/load.js';
import type { DatedProof } from '../calibration.js';

export interface CertificateInput {
  readonly proof: DatedProof;
  readonly loaded: LoadedRig;
  /** The caution, a sentence a line. */
  readonly notice: readonly string[];
}
