/** What is thrown when something a person wrote cannot be used: a rig, a scenario, an argument. Exit code 2. */

/** One thing wrong, and where it stands. */
export interface Fault {
  /** File as shown to people; '' when there is none. */
  readonly file: string;
  /** Line from 1; 0 when the fault is about the whole file. */
  readonly line: number;
  /** Dotted key, e.g. `connection.cable.lengthM`; '' when the fault is about the whole file. */
  readonly path: string;
  /** What was found, what was expected, what to do. */
  readonly message: string;
}

/** `config/depot.yaml:12  connection.cable.lengthM: found -3, expected a number above 0` */
export function faultLine(fault: Fault): string {
  const where = fault.file && fault.line > 0 ? `${fault.file}:${fault.line}` : fault.file;
  return `${where}${where && '  '}${fault.path}${fault.path && ': '}${fault.message}`;
}

/** The message is complete and meant for people; printers need no stack. */
export class InputError extends Error {
  override readonly name = 'InputError';
  readonly exitCode = 2;
  constructor(
    /** What cannot be used, e.g. `rig depot.yaml cannot be used`. */
    readonly what: string,
    readonly faults: readonly Fault[] = [],
  ) {
    const count = faults.length === 1 ? '1 fault' : `${faults.length} faults`;
    super(
      faults.length === 0
        ? what
        : [`${what} (${count}):`, ...faults.map((f) => `  ${faultLine(f)}`)].join('\n'),
    );
  }
}
