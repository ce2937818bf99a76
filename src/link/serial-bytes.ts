/**
 * A serial port or a pseudo-terminal as a stream of bytes: the only file that knows serialport.
 *
 * What it guards against, all of it seen on serialport 13:
 * - what is written to a closed port is delivered after reopening: every attempt has its own port object, and
 *   bytes go only to the open port that is ours now;
 * - a hung-up terminal may give no event, and reading it can keep a core busy: a slow watch asks the terminal
 *   for its settings, which a hung-up one refuses; the supervisor's heartbeat decides before that anyway;
 * - closing can wait for output nobody takes: what is unsent is discarded first, and the wait is bounded.
 */
import { SerialPort } from 'serialport';
import type { Clock } from '../host/clock.js';
import { type ByteEvents, type ByteLink, PortError } from './link.js';
import { MAX_QUEUE_BYTES } from './memory.js';

const WATCH_MS = 200;
const CLOSE_MS = 1000;

export interface SerialOptions {
  readonly clock: Clock;
  /** Name of the port in the rig. */
  readonly port: string;
  readonly path: string;
  readonly baud: number;
}

/** One opening of the port and everything that dies with it. */
interface Opening {
  readonly serial: SerialPort;
  readonly events: ByteEvents;
  queuedBytes: number;
  stopWatch: () => void;
}

export class SerialBytes implements ByteLink {
  readonly port: string;
  readonly path: string;
  generation = 0;
  private opening: Opening | null = null;
  private attempt: SerialPort | null = null;

  constructor(private readonly options: SerialOptions) {
    this.port = options.port;
    this.path = options.path;
  }

  async open(events: ByteEvents): Promise<void> {
    const { port, path } = this;
    if (this.opening !== null || this.attempt !== null) {
      throw new PortError(port, path, 'it is open already', 'close it before opening it again');
    }
    const serial = new SerialPort({ path, baudRate: this.options.baud, autoOpen: false });
    // Without a listener an error would end the process; what matters arrives as `close` or a failed write.
    serial.on('error', () => {});
    this.attempt = serial;
    const failure = await new Promise<Error | null>((resolve) => serial.open(resolve));
    const abandoned = this.attempt !== serial;
    if (!abandoned) this.attempt = null;
    if (failure) throw portError(port, path, failure);
    if (abandoned) {
      await release(serial, this.options.clock);
      throw new PortError(port, path, 'it was closed while opening', 'open it again');
    }
    this.generation++;
    this.listen(serial, events);
  }

  write(bytes: Uint8Array): boolean {
    const opening = this.opening;
    if (opening === null || !opening.serial.isOpen) return false;
    if (opening.queuedBytes + bytes.length > MAX_QUEUE_BYTES) return false;
    opening.queuedBytes += bytes.length;
    opening.serial.write(bytes, (error) => {
      opening.queuedBytes -= bytes.length;
      if (error) this.lost(opening, error.message);
    });
    return true;
  }

  async close(): Promise<void> {
    // An attempt under way sees that it is no longer ours and closes what it opened.
    this.attempt = null;
    const opening = this.opening;
    if (opening === null) return;
    this.forget(opening);
    await release(opening.serial, this.options.clock);
  }

  private listen(serial: SerialPort, events: ByteEvents): void {
    const opening: Opening = { serial, events, queuedBytes: 0, stopWatch: () => {} };
    this.opening = opening;
    serial.on('data', (bytes: Buffer) => {
      if (this.opening === opening) events.bytes(bytes);
    });
    serial.on('close', (error: Error | null) => this.lost(opening, error?.message ?? 'the port was closed'));
    this.watch(opening);
  }

  /** Asks again and again whether the terminal is still there; each answer starts the next wait. */
  private watch(opening: Opening): void {
    opening.stopWatch = this.options.clock.after(WATCH_MS, () => {
      const binding = opening.serial.port as { getBaudRate?: () => Promise<unknown> } | undefined;
      if (this.opening !== opening || !binding?.getBaudRate) return;
      binding.getBaudRate().then(
        () => this.opening === opening && this.watch(opening),
        // A platform that cannot answer at all says so at every time: then the heartbeat is what is left.
        (error: Error) => isHangUp(error) && this.lost(opening, error.message),
      );
    });
  }

  /** The opening ended by itself. Says so once, and lets go of the port. */
  private lost(opening: Opening, message: string): void {
    if (this.opening !== opening) return;
    this.forget(opening);
    opening.events.down(
      `port ${this.port} (${this.path}) is gone: ${message}; check device, adapter and cable`,
    );
    void release(opening.serial, this.options.clock);
  }

  private forget(opening: Opening): void {
    this.opening = null;
    opening.stopWatch();
  }
}

/** Lets go of a port, whatever state it is in, within CLOSE_MS. */
function release(serial: SerialPort, clock: Clock): Promise<void> {
  return new Promise((resolve) => {
    const cancel = clock.after(CLOSE_MS, finish);
    function finish(): void {
      cancel();
      serial.destroy();
      resolve();
    }
    if (!serial.isOpen) {
      finish();
      return;
    }
    // Discards what nobody takes; an error here says only that there is nothing to discard.
    serial.flush(() => {
      if (serial.isOpen) serial.close(finish);
      else finish();
    });
  });
}

const isHangUp = (error: Error): boolean => /EIO|input\/output|bad file|no such device/i.test(error.message);

/** What the system said, in words for people. */
function portError(port: string, path: string, error: Error): PortError {
  const text = error.message;
  const say = (why: string, remedy: string) => new PortError(port, path, why, remedy);
  if (/cannot lock port|EBUSY|resource busy/i.test(text)) {
    return say('another program holds it', 'end the other program, or name another port');
  }
  if (/permission denied|EACCES/i.test(text)) {
    return say('permission denied', 'give this user access to serial ports');
  }
  if (/no such file|no such device|ENOENT|ENXIO|ENODEV/i.test(text)) {
    return say('there is no such port', 'check the path, and that the adapter is plugged in');
  }
  if (/inappropriate ioctl|ENOTTY/i.test(text)) {
    return say('it is not a serial port', 'name a serial port or a pseudo-terminal');
  }
  return say(text.replace(/^Error:?\s*/i, ''), 'check port, adapter and baud rate');
}
