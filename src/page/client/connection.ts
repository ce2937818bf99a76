/**
 * Whether the page still hears the server. Judged on the clock of the frames: a stream that says nothing for a
 * while is as good as lost, even where the browser has not noticed yet.
 */

/** The server speaks at least once a second; nothing for this long is no delay any more. */
export const SILENT_MS = 4000;
/** Between tries of the page's own, where the browser gave up. */
export const RETRY_MS = 2000;

export class Hearing {
  #heardMs: number | null = null;
  #broken = false;
  #retryAtMs: number | null = null;

  heard(atMs: number): void {
    this.#heardMs = Math.max(atMs, this.#heardMs ?? atMs);
    this.#broken = false;
    this.#retryAtMs = null;
  }

  /** From the first frame that shows anything the server is expected to speak. */
  expect(nowMs: number): void {
    this.#heardMs ??= nowMs;
  }

  /** The stream broke; `final` where nobody but the page opens it again. */
  broke(nowMs: number, final: boolean): void {
    this.#broken = true;
    if (final) this.#retryAtMs ??= nowMs + RETRY_MS;
  }

  lost(nowMs: number): boolean {
    return this.#broken || (this.#heardMs !== null && nowMs - this.#heardMs > SILENT_MS);
  }

  /** Once for each time that it is due. */
  retryDue(nowMs: number): boolean {
    if (this.#retryAtMs === null || nowMs < this.#retryAtMs) return false;
    this.#retryAtMs = null;
    return true;
  }

  silentS(nowMs: number): number {
    return this.#heardMs === null ? 0 : Math.max(0, (nowMs - this.#heardMs) / 1000);
  }
}
