/**
 * The one wrapper of node-pty: a pseudo-terminal whose slave side a serial link opens by path, while the
 * simulated device answers on the master side.
 *
 * A small process keeps the slave side open (`node-pty.open()` would steal data through its own slave
 * reader). If it dies, the kernel hangs the line up: that is how tests pull the cable.
 */
import { type IPty, spawn } from '@lydell/node-pty';
import type { Clock } from '../src/host/clock.js';
import { writeSome } from '../src/host/terminal.js';

/** A week: longer than any session, and no keeper outlives its parent anyway (the line hangs up). */
const KEEPER_S = 7 * 24 * 3600;
/** The path arrives in one line; anything longer is not a path. */
const MAX_PATH_BYTES = 256;
const START_MS = 5000;

export interface Pty {
  /** Path of the slave side, for a serial link to open. */
  readonly path: string;
  readonly keeperPid: number;
  /**
   * Bytes to the slave side; characters above 255 are not bytes and are cut. What nobody reads fills the buffer
   * of the kernel, and then is lost: a device does not wait for its listener.
   */
  write(bytes: string): void;
  /** Sets the one listener for bytes from the slave side, one character a byte. */
  onData(listener: (bytes: string) => void): void;
  /** While held, nothing the slave side writes is taken: its buffers fill up, as with a device that hangs. */
  hold(on: boolean): void;
  /** Sets the one listener for the end of the line. */
  onExit(listener: () => void): void;
  /**
   * Tears the line off: the keeper dies, this side is closed with it, and the kernel hangs up whoever has the slave
   * side open; unless a terminal was opened after this one, whose keeper holds this side too.
   */
  tear(): void;
  close(): void;
}

/** @throws Error when no pseudo-terminal could be made within five seconds. */
export function openPty(clock: Clock): Promise<Pty> {
  const term = spawn('sh', ['-c', `stty raw -echo && tty && exec sleep ${KEEPER_S}`], { encoding: null });
  return new Promise((resolve, reject) => {
    let head = '';
    let path: string | null = null;
    let ended = false;
    let listen: (bytes: string) => void = () => {};
    let exit: () => void = () => {};
    const give = (problem: string) => {
      end(term);
      reject(new Error(`no pseudo-terminal: ${problem}`));
    };
    const cancel = clock.after(START_MS, () => give('the keeper did not name its path in time'));

    // With encoding null the events carry buffers, whatever the typing says.
    (term.onData as unknown as (run: (data: Buffer) => void) => void)((data) => {
      const text = data.toString('latin1');
      if (path !== null) {
        listen(text);
        return;
      }
      head = (head + text).slice(0, MAX_PATH_BYTES);
      const lineEnd = head.indexOf('\n');
      if (lineEnd < 0) return;
      path = head.slice(0, lineEnd).trim();
      cancel();
      if (!path.startsWith('/')) {
        give(`the keeper said ${JSON.stringify(path)}`);
        return;
      }
      resolve({
        path,
        keeperPid: term.pid,
        write: (bytes) => {
          if (!ended) put(term, bytes);
        },
        onData: (listener) => {
          listen = listener;
        },
        hold: (on) => {
          if (on) term.pause();
          else term.resume();
        },
        onExit: (listener) => {
          exit = listener;
        },
        tear: () => {
          if (!ended) term.kill('SIGKILL');
        },
        close: () => {
          if (ended) return;
          ended = true;
          end(term);
        },
      });
    });
    term.onExit(() => {
      ended = true;
      cancel();
      if (path === null) reject(new Error('no pseudo-terminal: the keeper ended at once'));
      else exit();
    });
  });
}

/** What is inside a terminal on this side; the typing does not tell. */
interface Inside {
  readonly fd: number;
  readonly _socket: { readonly destroyed: boolean };
  destroy(): void;
}

function put(term: IPty, bytes: string): void {
  const { fd, _socket } = term as unknown as Inside;
  // The number of a closed descriptor may belong to another file by now.
  if (_socket.destroyed) return;
  try {
    writeSome(fd, Buffer.from(bytes, 'latin1'));
  } catch {
    // The line has hung up; its end is told by the keeper.
  }
}

/** Kills the keeper and frees the master side; both may be gone already. */
function end(term: IPty): void {
  try {
    (term as unknown as Inside).destroy();
    term.kill('SIGKILL');
  } catch {
    // The keeper is gone: nothing is left to end.
  }
}
