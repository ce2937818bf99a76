/** What a report is made of. */
import type { AuditResult } from '../audit/audit.js';
import type { Collected } from './collect.js';

export interface ReportInput {
  /** Name of the journal, as given. */
  readonly file: string;
  readonly audit: AuditResult;
  /** Exit code of the audit: 0, 5 or 6. */
  readonly exit: number;
  readonly collected: Collected;
  /** The caution, a sentence a line. */
  readonly notice: readonly string[];
  /** Version of this program. */
  readonly software: string;
  /** When the report was made, ms since 1970. */
  readonly madeMs: number;
}
