/** Who is signed in: what an invitation and a cookie are worth, for how long, and that no key is kept. */
import { inspect } from 'node:util';
import { describe, expect, it } from 'vitest';
import { personName } from '../../../src/page/api.js';
import { INVITED_MS, nameKey, People, SIGNED_IN_MS } from '../../../src/page/people.js';

function desk() {
  let wallMs = 1_800_000_000_000;
  let count = 0;
  const secrets: string[] = [];
  const people = new People({ wallMs: () => wallMs }, () => {
    const secret = `secret-number-${++count}-of-this-test`;
    secrets.push(secret);
    return secret;
  });
  const pass = (ms: number): void => {
    wallMs += ms;
  };
  const invited = (role: 'watcher' | 'operator' | 'engineer' = 'operator'): string =>
    people.invite(role)?.invitation ?? '';
  const signedIn = (name: string, role: 'watcher' | 'operator' | 'engineer' = 'operator'): string => {
    const done = people.signIn(invited(role), name, () => false);
    if (typeof done === 'string') throw new Error(done);
    return done.token;
  };
  return { people, pass, invited, signedIn, secrets, now: () => wallMs };
}

describe('an invitation', () => {
  it('is good once', () => {
    const { people, invited } = desk();
    const secret = invited();
    expect(people.signIn(secret, 'Ada', () => true)).toMatchObject({ person: { name: 'Ada' } });
    expect(people.signIn(secret, 'Ben', () => true)).toBe('not-invited');
    expect(people.list.map((p) => p.name)).toEqual(['Ada']);
  });
  it('gives the role it was made for and no other', () => {
    const { people, signedIn } = desk();
    expect(people.who(signedIn('Wim', 'watcher'))?.role).toBe('watcher');
    expect(people.who(signedIn('Eva', 'engineer'))?.role).toBe('engineer');
  });
  it('runs out at its time and not a moment before', () => {
    const { people, invited, pass } = desk();
    const [first, second] = [invited(), invited()];
    pass(INVITED_MS - 1);
    expect(people.signIn(first, 'Ada', () => false)).toMatchObject({ person: { name: 'Ada' } });
    pass(1);
    expect(people.signIn(second, 'Ben', () => false)).toBe('not-invited');
  });
  it('stays good while it is only the name that is wrong', () => {
    const { people, invited, signedIn } = desk();
    signedIn('Ada');
    const secret = invited();
    expect(people.signIn(secret, 'ADA', () => false)).toBe('name-taken');
    expect(people.signIn(secret, 'Ben', () => false)).toMatchObject({ person: { name: 'Ben' } });
  });
  it('that is a cookie, a hash or nothing at all signs nobody in', () => {
    const { people, signedIn } = desk();
    const token = signedIn('Ada');
    const kept = inspect(people, { showHidden: true, depth: 9 });
    for (const wrong of [token, '', 'x', '__proto__', 'constructor', kept])
      expect(people.signIn(wrong, 'Ben', () => true)).toBe('not-invited');
  });
  it('is not made without end', () => {
    const { people, pass } = desk();
    const made = Array.from({ length: 200 }, () => people.invite('watcher'));
    expect(made.filter((m) => m !== null)).toHaveLength(64);
    pass(INVITED_MS);
    expect(people.invite('watcher')).not.toBeNull();
  });
});

describe('a sign-in', () => {
  it('lasts its time and not a moment longer, also for whoever is asked about', () => {
    const { people, signedIn, pass } = desk();
    const token = signedIn('Ada');
    pass(SIGNED_IN_MS - 1);
    expect(people.who(token)?.name).toBe('Ada');
    pass(1);
    expect(people.who(token)).toBeNull();
    expect(people.list).toEqual([]);
  });
  it('ends with signing out, for that cookie alone', () => {
    const { people, signedIn } = desk();
    const [ada, ben] = [signedIn('Ada'), signedIn('Ben')];
    people.signOut(ada);
    expect(people.who(ada)).toBeNull();
    expect(people.who(ben)?.name).toBe('Ben');
    people.signOut('nobody');
    expect(people.list).toHaveLength(1);
  });
  it('replaces one who is gone, whose cookie is then worth nothing', () => {
    const { people, signedIn, invited } = desk();
    const old = signedIn('Ada');
    const asked: string[] = [];
    const done = people.signIn(invited('watcher'), 'ada', (name) => asked.push(name) > 0);
    expect(asked).toEqual(['Ada']);
    expect(done).toMatchObject({ person: { name: 'ada', role: 'watcher' } });
    expect(people.who(old)).toBeNull();
    expect(people.list).toHaveLength(1);
  });
  it('is bounded in number, and a replacement still is possible then', () => {
    const { people, signedIn, invited } = desk();
    for (let i = 0; i < 64; i++) signedIn(`person ${i}`);
    expect(people.signIn(invited(), 'one more', () => true)).toBe('too-many');
    expect(people.signIn(invited(), 'person 7', () => true)).toMatchObject({ person: { name: 'person 7' } });
    expect(people.list).toHaveLength(64);
  });
});

it('keeps no invitation and no cookie, however deep one looks', () => {
  const { people, signedIn, invited, secrets } = desk();
  invited();
  signedIn('Ada');
  // Maps behind private fields are not shown by `inspect`; taken apart on the way in and out they are.
  const seen: unknown[] = [];
  const { set } = Map.prototype;
  Map.prototype.set = function (key, value) {
    seen.push([key, value]);
    return set.call(this, key, value);
  };
  try {
    invited();
    signedIn('Ben');
  } finally {
    Map.prototype.set = set;
  }
  const text = `${JSON.stringify(seen)} ${JSON.stringify(people.list)} ${inspect(people, { depth: 9 })}`;
  expect(seen).toHaveLength(3);
  expect(secrets.length).toBeGreaterThan(4);
  expect(secrets.filter((secret) => text.includes(secret))).toEqual([]);
});

describe('names', () => {
  const ALIKE = [
    ['Ada', 'ADA'],
    ['Ada', 'Аda'], // a Cyrillic A
    ['Ada', 'Ada\u200d'],
    ['Ada', '\u3164Ada'],
    ['Ada', 'Ａｄａ'],
    ['A. Person', 'A.  Person'],
    ['A. Person', 'A.\u00a0Person'],
    ['Zoë', 'Zoe\u0308'],
    ['Otto', 'Οttο'], // Greek omicrons
    ['Ada\ufe0f', 'Ada'],
  ] as const;
  it.each(ALIKE)('%j and %j are one', (a, b) => {
    expect(nameKey(a)).toBe(nameKey(b));
    const { people, signedIn, invited } = desk();
    signedIn(a);
    expect(people.signIn(invited(), b, () => false)).toBe('name-taken');
  });
  it.each([
    ['Ada', 'Ida'],
    ['Ada', 'Ada B'],
    ['Zoe', 'Zoë'],
    ['李', '王'],
  ])('%j and %j are two', (a, b) => {
    expect(nameKey(a)).not.toBe(nameKey(b));
  });
  it.each([
    '',
    '   ',
    'a\nb',
    'a\u0000',
    'a\u2028b',
    'a\u202eb',
    '\u200b',
    '\u3164',
    'a\ud800',
    '\u200d',
    '. -',
    'x'.repeat(41),
  ])('does not take %j', (name) => {
    expect(personName.safeParse(name).success).toBe(false);
  });
  it.each(['N. Aalto', "O'Neill-Şahin", '李 小龙', 'علی\u200cرضا', 'Ada 2', 'Zoe\u0308'])(
    'takes %j',
    (name) => {
      expect(personName.safeParse(`  ${name} `)).toMatchObject({ success: true, data: name });
    },
  );
});
