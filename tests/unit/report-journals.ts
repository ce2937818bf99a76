/** Journals of short sessions in virtual time, and the reports on them. */
import { Audit, type AuditResult } from '../../src/audit/audit.js';
import { exitOfAudit } from '../../src/cli/audit-file.js';
import { NOTICE_LINES } from '../../src/cli/notice.js';
import { loadScenario } from '../../src/cli/scenarios-files.js';
import { SOFTWARE } from '../../src/host/version.js';
import { type Collected, Collector } from '../../src/report/collect.js';
import { reportOf } from '../../src/report/report.js';
import { loadRig } from '../../src/rig/load.js';
import { recorded } from './journal/recorded.js';

export async function journalOf(name: string): Promise<string> {
  const scenario = loadScenario(name);
  const { text } = await recorded({ loaded: loadRig(scenario.rig), scenario });
  return text;
}

export interface Reported {
  readonly html: string;
  readonly audit: AuditResult;
  readonly collected: Collected;
}

export async function reported(text: string): Promise<Reported> {
  const collector = new Collector();
  const auditing = new Audit({ software: SOFTWARE, ...collector.options });
  auditing.feed(Buffer.from(text));
  const audit = auditing.end();
  const { collected } = collector;
  return { html: await htmlOf(audit, collected), audit, collected };
}

export const htmlOf = (audit: AuditResult, collected: Collected): Promise<string> =>
  reportOf({
    file: 'bay-2.ndjson',
    audit,
    exit: exitOfAudit(audit),
    collected,
    notice: NOTICE_LINES,
    software: SOFTWARE,
    // 2001-02-03 04:05:06 UTC.
    madeMs: Date.UTC(2001, 1, 3, 4, 5, 6),
  });

/** What stands between `<figure id="fig-ID">` and its end; '' when there is none. */
export const figureIn = (html: string, id: string): string =>
  new RegExp(`<figure id="fig-${id}">([\\s\\S]*?)</figure>`).exec(html)?.[1] ?? '';
