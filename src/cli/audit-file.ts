/** Audits one journal file of any size. */
import { Audit, type AuditOptions, type AuditResult } from '../audit/audit.js';
import { brokenOnRecord, lacksEnd } from '../audit/verdict.js';
import { pieces } from '../host/big-file.js';
import { SOFTWARE } from '../host/version.js';
import { EXIT } from '../supervisor/outcome.js';

/**
 * @param onProgress bytes read so far, for long ones
 * @throws InputError when it cannot be read
 */
export function auditFile(
  path: string,
  options: Omit<AuditOptions, 'software'> = {},
  onProgress: (bytes: number) => void = () => {},
): AuditResult {
  const audit = new Audit({ ...options, software: SOFTWARE });
  let bytes = 0;
  for (const piece of pieces(path)) {
    audit.feed(piece);
    bytes += piece.length;
    onProgress(bytes);
  }
  return audit.end();
}

/**
 * 0 sound, 5 the record is not intact, 6 decisions diverge or an invariant is broken, 8 the decisions could not be held
 * against this program, or a session was started and how it ended is not on the record.
 */
export function exitOfAudit(a: AuditResult): number {
  if (!a.intact) return EXIT.recordNotIntact;
  if (a.diverged === true || brokenOnRecord(a).length > 0) return EXIT.diverged;
  return a.notReplayed === null && !lacksEnd(a) ? EXIT.released : EXIT.inconclusive;
}

/** Not intact outweighs the rest, because what diverges there may be the damage; least of all is what is not known. */
const WORST_FIRST: readonly number[] = [EXIT.recordNotIntact, EXIT.diverged, EXIT.inconclusive];

/** The exit code of several audits together. */
export const worseOf = (one: number, other: number): number =>
  WORST_FIRST.find((exit) => exit === one || exit === other) ?? EXIT.released;
