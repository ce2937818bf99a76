/**
 * What every simulated SCPI instrument has: messages of IEEE 488.2 in their units, headers in long and short form,
 * an error queue, identity, and the ways in which it can go wrong. A part gives the commands.
 */
import { type Hosted, PeerFaults, type PeerPlace } from './peer.js';

/** Carries out a command, or answers a query. A number returned is an error of the standard. */
export type Command = (args: string) => string | number | undefined;
/** By header with the long form spelled out, capitals for the short one: `SOURce:CURRent?`. */
export type Commands = Readonly<Record<string, Command>>;

export const SCPI_ERRORS: Readonly<Record<number, string>> = {
  [-104]: 'Data type error',
  [-109]: 'Missing parameter',
  [-113]: 'Undefined header',
  [-221]: 'Settings conflict',
  [-222]: 'Data out of range',
  [-350]: 'Queue overflow',
  [-365]: 'Time out error',
};
const MAX_ERRORS = 20;
const LONGEST = 512;
const LATE_MS = 120;
const TWICE_MS = 8;
/** An instrument thinks about a message for this long. */
const THINKS_MS = 2;

interface Later {
  readonly atMs: number;
  readonly text: string;
}

export class ScpiPeer implements Hosted {
  protected nowMs = 0;
  protected lastMessageMs = 0;
  readonly #errors: number[] = [];
  readonly #faults: PeerFaults;
  readonly #table: readonly { readonly match: RegExp; readonly command: Command }[];
  #later: Later[] = [];
  #torn = false;
  #noise = 1;

  constructor(
    protected readonly place: PeerPlace,
    private readonly identity: string,
    commands: Commands,
  ) {
    this.#faults = new PeerFaults(place.faults);
    const all: Commands = {
      '*IDN?': () => this.identity,
      '*CLS': () => {
        this.#errors.length = 0;
      },
      'SYSTem:REMote': () => undefined,
      'SYSTem:ERRor?': () => {
        const number = this.#errors.shift() ?? 0;
        return `${number},"${number === 0 ? 'No error' : SCPI_ERRORS[number]}"`;
      },
      ...commands,
    };
    this.#table = Object.entries(all).map(([header, command]) => ({ match: headerPattern(header), command }));
  }

  get nextTickMs(): number {
    return Math.min(this.nowMs + 10, ...this.#later.map((l) => l.atMs));
  }

  tick(nowMs: number): void {
    this.nowMs = nowMs;
    if (!this.#torn && this.goesWrong('unplugged')) {
      this.#torn = true;
      this.place.unplug();
    }
    const due = this.#later.filter((l) => l.atMs <= nowMs);
    this.#later = this.#later.filter((l) => l.atMs > nowMs);
    for (const { text } of due) this.place.send(text);
  }

  receive(line: string): void {
    const text = line.replace(/\r$/, '');
    if (this.#torn || text.length > LONGEST) return;
    this.lastMessageMs = this.nowMs;
    const answers: string[] = [];
    for (const unit of text.split(';')) {
      const answer = this.#carryOut(unit.trim());
      if (answer !== undefined) answers.push(answer);
    }
    if (answers.length > 0) this.#answer(answers.join(';'));
  }

  protected goesWrong(fault: Parameters<PeerFaults['has']>[0]): boolean {
    return this.#faults.has(fault, this.place.phase(), this.nowMs);
  }

  protected error(number: number): void {
    if (this.#errors.length < MAX_ERRORS) this.#errors.push(number);
    else this.#errors[MAX_ERRORS - 1] = -350;
  }

  #carryOut(unit: string): string | undefined {
    const [header = '', ...rest] = unit.replace(/^:/, '').split(' ');
    const found = this.#table.find(({ match }) => match.test(header));
    const result = found ? found.command(rest.join(' ').trim()) : -113;
    if (typeof result === 'number') {
      this.error(result);
      return undefined;
    }
    return result;
  }

  #answer(text: string): void {
    if (this.goesWrong('silent')) return;
    const late = this.goesWrong('answers-late') ? LATE_MS : THINKS_MS;
    const said = this.goesWrong('garbage') ? this.#noiseText() : text;
    this.#later.push({ atMs: this.nowMs + late, text: said });
    if (this.goesWrong('answers-twice')) this.#later.push({ atMs: this.nowMs + late + TWICE_MS, text: said });
  }

  #noiseText(): string {
    this.#noise = (this.#noise * 48271) % 0x7fffffff;
    return Array.from({ length: 8 }, (_, i) => String.fromCharCode(1 + ((this.#noise >> i) & 0xff))).join('');
  }
}

/** `SOURce:CURRent?` takes SOUR:CURR?, source:current? and every mixture, as SCPI-1999 6.2.1 has it. */
function headerPattern(header: string): RegExp {
  const isQuery = header.endsWith('?');
  const body = header.replace(/\?$/, '').replace('*', '\\*');
  const nodes = body.split(':').map((node) => {
    const short = /^\\?\*?[A-Z]+/.exec(node)?.[0] ?? node;
    return `${short}(?:${node.slice(short.length)})?`;
  });
  return new RegExp(`^${nodes.join(':')}${isQuery ? '\\?' : ''}$`, 'i');
}

/** `+7.503000E+02`: NR3. */
export function nr3(value: number): string {
  const [mantissa = '0', exponent = '0'] = Math.abs(value).toExponential(6).split('e');
  const power = Number(exponent);
  return `${value < 0 ? '-' : '+'}${mantissa}E${power < 0 ? '-' : '+'}${String(Math.abs(power)).padStart(2, '0')}`;
}

/** A parameter that must be a number. */
export function numeric(text: string): number | null {
  return /^[+-]?(\d+\.?\d*|\.\d+)(E[+-]?\d+)?$/i.test(text) ? Number(text) : null;
}
