/**
 * What every link must keep (src/link/link.ts), whatever it is made of. Memory and serial carry lines from end to end
 * and keep all of it; an adapter answers the lines itself and keeps what concerns opening, sending and closing.
 */
import { afterEach, describe, expect, it } from 'vitest';
import { type Link, MAX_LINE_BYTES, PortError } from '../../src/link/link.js';

export interface LinkUnderTest {
  readonly link: Link;
  /** Lines the device's end received, in order. */
  readonly received: readonly string[];
  /** The device sends bytes as they are; a terminator must be in them. */
  inject(bytes: string): void;
  /** Lets at least this much of the link's time pass. */
  pass(ms: number): Promise<void>;
  /** The device is torn away. */
  cut(): void;
  end(): Promise<void>;
}

/** A link of which only its opening and its end are seen. */
export type OpeningUnderTest = Pick<LinkUnderTest, 'link' | 'pass' | 'cut' | 'end'>;

export interface Heard {
  readonly lines: string[];
  readonly downs: string[];
  readonly events: { line(text: string): void; down(reason: string): void };
}

export function ears(): Heard {
  const lines: string[] = [];
  const downs: string[] = [];
  return { lines, downs, events: { line: (t) => lines.push(t), down: (r) => downs.push(r) } };
}

/** Of a link that carries lines from end to end. */
export function linkContract(
  name: string,
  make: () => Promise<LinkUnderTest>,
  makeAbsent: () => Promise<Link>,
): void {
  openingContract(name, make, makeAbsent);
  describe(`link contract: ${name}`, () => {
    let made: LinkUnderTest | null = null;
    const fresh = async (): Promise<LinkUnderTest> => {
      made = await make();
      return made;
    };
    afterEach(async () => {
      await made?.end();
      made = null;
    });
    const until = async (t: LinkUnderTest, ok: () => boolean): Promise<void> => {
      for (let i = 0; i < 200 && !ok(); i++) await t.pass(10);
    };

    it('delivers lines whole and in order, both ways', async () => {
      const t = await fresh();
      const heard = ears();
      await t.link.open(heard.events);
      const sent = Array.from({ length: 20 }, (_, i) => `line ${i} ${'x'.repeat(i)}`);
      for (const line of sent) expect(t.link.send(line)).toBe(true);
      t.inject(sent.map((l) => `${l}\n`).join(''));
      await until(t, () => t.received.length >= 20 && heard.lines.length >= 20);
      expect(t.received).toEqual(sent);
      expect(heard.lines).toEqual(sent);
    });

    it('puts a line together from pieces', async () => {
      const t = await fresh();
      const heard = ears();
      await t.link.open(heard.events);
      t.inject('one ');
      await t.pass(20);
      expect(heard.lines).toEqual([]);
      t.inject('line\nand another\n');
      await until(t, () => heard.lines.length >= 2);
      expect(heard.lines).toEqual(['one line', 'and another']);
    });

    it('drops and counts a line that is too long, and reads the next normally', async () => {
      const t = await fresh();
      const heard = ears();
      await t.link.open(heard.events);
      t.inject(`${'y'.repeat(MAX_LINE_BYTES + 500)}\nnormal\n`);
      await until(t, () => heard.lines.length >= 1);
      t.inject(`${'z'.repeat(MAX_LINE_BYTES)}\n`);
      await until(t, () => heard.lines.length >= 2);
      expect(heard.lines).toEqual(['normal', 'z'.repeat(MAX_LINE_BYTES)]);
      expect(t.link.dropped.lines).toBe(1);
      expect(t.link.dropped.bytes).toBeGreaterThanOrEqual(MAX_LINE_BYTES + 500);
    });

    it('refuses to send what is not one bounded line', async () => {
      const t = await fresh();
      await t.link.open(ears().events);
      for (const bad of ['', 'a\nb', 'a\r', 'x'.repeat(MAX_LINE_BYTES + 1)])
        expect(t.link.send(bad)).toBe(false);
      expect(t.link.send('good')).toBe(true);
      await until(t, () => t.received.length >= 1);
      expect(t.received).toEqual(['good']);
    });

    it('neither takes nor delivers anything before open and after close', async () => {
      const t = await fresh();
      const heard = ears();
      expect(t.link.send('too early')).toBe(false);
      await t.link.open(heard.events);
      t.inject('on its way\n');
      const closing = t.link.close();
      expect(t.link.send('too late')).toBe(false);
      await closing;
      await t.link.close();
      t.inject('nobody there\n');
      await t.pass(100);
      expect(heard.lines).toEqual([]);
      expect(heard.downs).toEqual([]);
      expect(t.received).toEqual([]);
    });

    it('delivers nothing of one opening to the next', async () => {
      const t = await fresh();
      const first = ears();
      await t.link.open(first.events);
      expect(t.link.generation).toBe(1);
      t.link.send('of the first opening');
      await until(t, () => t.received.length >= 1);
      await t.link.close();
      expect(t.link.send('between the two')).toBe(false);
      const second = ears();
      await t.link.open(second.events);
      expect(t.link.generation).toBe(2);
      t.link.send('of the second opening');
      t.inject('to the second opening\n');
      await until(t, () => t.received.length >= 2 && second.lines.length >= 1);
      expect(t.received).toEqual(['of the first opening', 'of the second opening']);
      expect(first.lines).toEqual([]);
      expect(second.lines.at(-1)).toBe('to the second opening');
    });
  });
}

/** Of every link, an adapter included. */
export function openingContract(
  name: string,
  make: () => Promise<OpeningUnderTest>,
  makeAbsent: () => Promise<Link>,
): void {
  describe(`opening contract: ${name}`, () => {
    let made: OpeningUnderTest | null = null;
    const fresh = async (): Promise<OpeningUnderTest> => {
      made = await make();
      return made;
    };
    afterEach(async () => {
      await made?.end();
      made = null;
    });
    const until = async (t: OpeningUnderTest, ok: () => boolean): Promise<void> => {
      for (let i = 0; i < 200 && !ok(); i++) await t.pass(10);
    };

    it('sends nothing that is not one bounded line', async () => {
      const t = await fresh();
      await t.link.open(ears().events);
      for (const bad of ['', 'a\nb', 'a\r', 'x'.repeat(MAX_LINE_BYTES + 1)])
        expect(t.link.send(bad)).toBe(false);
      expect(t.link.send('good')).toBe(true);
    });

    it('takes nothing before it is open and after it is closed, and can be closed twice', async () => {
      const t = await fresh();
      const heard = ears();
      expect(t.link.send('too early')).toBe(false);
      await t.link.open(heard.events);
      const closing = t.link.close();
      expect(t.link.send('too late')).toBe(false);
      await closing;
      await t.link.close();
      await t.pass(100);
      expect(heard).toMatchObject({ lines: [], downs: [] });
    });

    it('counts its openings', async () => {
      const t = await fresh();
      for (const generation of [1, 2, 3]) {
        await t.link.open(ears().events);
        expect(t.link.generation).toBe(generation);
        await t.link.close();
        expect(t.link.send('between')).toBe(false);
      }
    });

    it('cannot be opened twice at once', async () => {
      const t = await fresh();
      await t.link.open(ears().events);
      await expect(t.link.open(ears().events)).rejects.toThrow(PortError);
      expect(t.link.generation).toBe(1);
    });

    it('says once that it is down, and then sends and delivers nothing', async () => {
      const t = await fresh();
      const heard = ears();
      await t.link.open(heard.events);
      t.cut();
      await until(t, () => heard.downs.length > 0);
      expect(heard.downs).toHaveLength(1);
      expect(t.link.send('into the void')).toBe(false);
      await t.pass(100);
      await t.link.close();
      expect(heard.downs).toHaveLength(1);
    });

    it('bounds what waits for the wire', async () => {
      const t = await fresh();
      await t.link.open(ears().events);
      const line = 'q'.repeat(2000);
      let taken = 0;
      while (taken < 100 && t.link.send(line)) taken++;
      expect(taken).toBeGreaterThanOrEqual(2);
      expect(taken).toBeLessThan(10);
    });

    it('says in words for people that a port is absent', async () => {
      const link = await makeAbsent();
      const error = await link.open(ears().events).catch((e: unknown) => e);
      expect(error).toBeInstanceOf(PortError);
      expect((error as PortError).remedy).not.toBe('');
      expect(link.send('x')).toBe(false);
      await link.close();
    });
  });
}
