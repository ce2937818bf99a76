/** `loopwarden audit`: what a journal is worth, whether it was decided rightly, and what happened. */
import type { Command } from 'commander';
import type { AuditResult } from '../audit/audit.js';
import { realClock } from '../host/clock.js';
import { isSameFile } from '../host/files.js';
import { InputError } from '../host/input-error.js';
import { SOFTWARE } from '../host/version.js';
import { type Verifier, verifierWith } from '../journal/keys.js';
import { Collector } from '../report/collect.js';
import { reportOf } from '../report/report.js';
import { auditFile, exitOfAudit, worseOf } from './audit-file.js';
import { tellAudit } from './audit-tell.js';
import { NOTICE, NOTICE_LINES } from './notice.js';
import { count } from './numbers.js';
import { textOf } from './option-file.js';
import { printable, say } from './print.js';
import { writeOut } from './write-out.js';

interface Options {
  readonly key?: string;
  readonly head?: string;
  readonly events: number;
  readonly json?: boolean;
  readonly report?: string;
}

const HEAD = /^[0-9a-f]{64}$/;
/** Longer ones take long enough for a person to wonder. */
const PROGRESS_EVERY_BYTES = 32 << 20;

export function addAudit(program: Command): void {
  program
    .command('audit')
    .description('verify journals, decide everything anew, and show what happened')
    .argument('<file...>', 'journals (.ndjson)')
    .option('--key <file>', 'public key the seals must be signed with')
    .option('--head <hex>', 'seal noted elsewhere that the journal must contain: shows a tail cut off')
    .option('--events <n>', 'how many of the last events are shown', count, 40)
    .option('--json', 'one JSON object a journal, a line each')
    .option(
      '--report <file>',
      'also one page of HTML with plots and tables, to print or keep; of one journal',
    )
    .action(audit);
}

async function audit(files: readonly string[], options: Options): Promise<void> {
  const head = options.head?.toLowerCase() ?? null;
  if (head !== null && !HEAD.test(head))
    throw new InputError('--head: expected the 64 hexadecimal digits of a seal, as a session prints them');
  if (head !== null && files.length > 1)
    throw new InputError('--head belongs to one journal: audit one file at a time with it');
  refuseReport(files, options);
  const verifier = options.key === undefined ? null : readKey(options.key);
  if (!options.json) say(`${NOTICE}\n`);
  let worst = 0;
  for (const file of files) {
    const collector = options.report === undefined ? null : new Collector();
    const result = auditFile(file, { verifier, head, ...collector?.options }, progress(file));
    if (collector !== null && options.report !== undefined)
      await writeReport(options.report, file, result, collector);
    if (options.json) say(JSON.stringify(forMachines(file, result)));
    else tellAudit(file, printable(result), options.events);
    if (!options.json && options.report !== undefined) say(`\nreport        ${options.report}`);
    if (!options.json && files.length > 1) say();
    worst = worseOf(worst, exitOfAudit(result));
  }
  process.exitCode = worst;
}

/** @throws InputError when there can be no report, or it would write over what it is about */
function refuseReport(files: readonly string[], { report, key }: Options): void {
  if (report === undefined) return;
  if (files.length > 1)
    throw new InputError('--report tells of one journal: audit one file at a time with it');
  for (const kept of [...files, ...(key === undefined ? [] : [key])])
    if (isSameFile(kept, report)) throw new InputError(`--report ${report} would write over ${kept}`);
}

/** Replaces what was there. @throws InputError when it cannot be written */
async function writeReport(out: string, file: string, audit: AuditResult, { collected }: Collector) {
  const text = await reportOf({
    file,
    audit,
    exit: exitOfAudit(audit),
    collected,
    notice: NOTICE_LINES,
    software: SOFTWARE,
    madeMs: realClock.wallMs(),
  });
  writeOut(out, text);
}

/** @throws InputError */
export function readKey(file: string): Verifier {
  return verifierWith(textOf('--key', file), file);
}

/** The result as documented for machines; times are in seconds since the header where they are `atS`. */
export function forMachines(file: string, a: AuditResult): Record<string, unknown> {
  return { file, exit: exitOfAudit(a), ...a };
}

function progress(file: string): (bytes: number) => void {
  let next = PROGRESS_EVERY_BYTES;
  return (bytes) => {
    if (bytes < next) return;
    next += PROGRESS_EVERY_BYTES;
    const words = `${file}: ${Math.round(bytes / (1 << 20))} MiB read`;
    process.stderr.write(process.stderr.isTTY ? `\r${words} ` : `${words}\n`);
  };
}
