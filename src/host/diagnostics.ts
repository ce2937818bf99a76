/**
 * Diagnostics for whoever looks after the installation: what happened to ports and to the program itself. Not
 * the record of a session, which is the journal's. Written synchronously, so that a killed process loses none.
 */
import pino from 'pino';

export interface Diagnostics {
  info(what: object, text: string): void;
  warn(what: object, text: string): void;
  error(what: object, text: string): void;
}

/** For whoever only looks on: what fails there is told here, and reaches nobody who has better things to do. */
export function guarded(diagnostics: Diagnostics, text: string, work: () => void): void {
  try {
    work();
  } catch (error) {
    diagnostics.error({ stack: error instanceof Error ? error.stack : String(error) }, text);
  }
}

export const quiet: Diagnostics = { info: () => {}, warn: () => {}, error: () => {} };

/** @param path a file to append to */
export function diagnosticsTo(path: string): Diagnostics {
  return pino({ base: null }, pino.destination({ dest: path, sync: true, mkdir: true }));
}
