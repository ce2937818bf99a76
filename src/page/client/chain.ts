/** The chain of proofs in order, in words; and what is missing before the next step. */
import type { About, ProofState, Snapshot, Statement } from './contract.js';
import { against, age, plain } from './words.js';

export interface Link {
  readonly proof: string;
  readonly phase: string;
  readonly text: string;
  readonly state: ProofState['state'];
  readonly shape: string;
  readonly word: string;
  readonly age: string;
  /** The figures it rests on, those that fail first. */
  readonly figures: readonly LinkFigure[];
}
export interface LinkFigure {
  readonly failing: boolean;
  readonly text: string;
}

const STATES: Record<ProofState['state'], readonly [shape: string, word: string]> = {
  standing: ['■', 'holds'],
  made: ['◧', 'was made'],
  lost: ['✕', 'LOST'],
  missing: ['□', 'missing'],
  later: ['○', 'later'],
  'not-needed': ['–', 'not needed'],
};

function figureOf(about: About, s: Statement): LinkFigure {
  const part = s.part === null ? '' : `${s.part}: `;
  const figures = against(s);
  if (!s.failing) return { failing: false, text: `${part}${figures === '' ? plain(s.code) : figures}` };
  const told = about.codes[s.code]?.text ?? plain(s.code);
  return { failing: true, text: `${part}${told}${figures === '' ? '' : `: ${figures}`}` };
}

/** Its readings are still looked at. */
const AGED: readonly ProofState['state'][] = ['standing', 'missing', 'lost'];

/** What is yes or no and as it must be, in one line: six ones tell nobody anything. */
function conditions(said: readonly Statement[]): LinkFigure[] {
  const hold = said.filter((s) => !s.failing && s.unit === '').map((s) => s.setting || plain(s.code));
  return hold.length === 0 ? [] : [{ failing: false, text: `as they must be: ${hold.join(', ')}` }];
}

export function chain(about: About, snapshot: Snapshot): Link[] {
  const states = new Map(snapshot.proofs.map((p) => [p.proof, p]));
  return about.chain.map(({ proof, phase, text }) => {
    const p = states.get(proof);
    const state = p?.state ?? 'later';
    const [shape, word] = STATES[state];
    const said = p?.statements ?? [];
    const figures = said.filter((s) => s.failing || s.unit !== '').map((s) => figureOf(about, s));
    return {
      proof,
      phase,
      text,
      state,
      shape,
      word,
      // What is to come has no age, and what was made is not measured any more.
      age: p !== undefined && p.ageMs !== null && AGED.includes(state) ? age(p.ageMs) : '',
      figures: [
        ...figures.filter((f) => f.failing),
        ...conditions(said),
        ...figures.filter((f) => !f.failing),
      ],
    };
  });
}

export interface Missing {
  /** One sentence: before what, and what is missing. */
  readonly headline: string;
  /** Each with what would bring it about. */
  readonly items: readonly { readonly text: string; readonly remedy: string }[];
}

/** What failing statements say, each code and part once, with its remedy. */
function failures(about: About, statements: readonly Statement[]): { text: string; remedy: string }[] {
  const seen = new Set<string>();
  return statements
    .filter((s) => s.failing)
    .filter((s) => {
      const key = `${s.code} ${s.part ?? ''}`;
      const known = seen.has(key);
      seen.add(key);
      return !known;
    })
    .map((s) => ({ text: figureOf(about, s).text, remedy: about.codes[s.code]?.remedy ?? '' }));
}

export function whatIsMissing(about: About, snapshot: Snapshot): Missing {
  if (snapshot.tripped || snapshot.latch !== null)
    return {
      headline: snapshot.tripped
        ? 'Tripped: nothing goes on. Next: made safe, proven dead, then acknowledged by a named person.'
        : 'A trip is latched: a named person must acknowledge it before anything starts.',
      items: failures(about, snapshot.findings),
    };
  if (snapshot.running === null) {
    const items = failures(about, snapshot.findings);
    return {
      headline:
        items.length === 0
          ? 'Nothing runs. Next: an order to start.'
          : 'Nothing runs. In the way of a start:',
      items,
    };
  }
  const links = chain(about, snapshot);
  const open = links.filter((l) => l.state === 'missing' || l.state === 'lost');
  const here = plain(snapshot.phase);
  if (open.length === 0) {
    const next = links.find((l) => l.state === 'later');
    const after = next === undefined ? '' : ` Next proof: ${next.text}.`;
    return {
      headline: `Nothing is missing in ${here}.${after}`,
      items: failures(about, snapshot.findings),
    };
  }
  const states = new Map(snapshot.proofs.map((p) => [p.proof, p.statements]));
  return {
    headline: `Missing before ${here} can go on: ${open.map((l) => l.text).join('; ')}`,
    items: failures(about, [...open.flatMap((l) => states.get(l.proof) ?? []), ...snapshot.findings]),
  };
}
