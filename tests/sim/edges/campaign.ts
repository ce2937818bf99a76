/** Drives the edges of the machine through the real stack, one session after the other, and keeps the account. */
import { type EventType, keyOf, stateOf } from '../../../src/audit/explore/subject.js';
import type { StormCase } from '../../../src/storm/case.js';
import type { MachineEdge } from '../../model/test-model.js';
import { type Chance, HANDLERS } from './handlers.js';
import { edgeId, runReal, type Session, type Visit } from './real-session.js';
import type { Way } from './ways.js';

export interface Trouble {
  readonly what: string;
  /** For `npm run storm -- --reproduce`. */
  readonly line: string;
}

interface Known {
  readonly way: Way;
  readonly visits: readonly Visit[];
}

/** Sessions tried for one edge before it is given up. */
const MOST_TRIES = 40;

export class Campaign {
  readonly driven = new Set<string>();
  readonly troubles: Trouble[] = [];
  /** Edges a journal showed that the machine does not have. */
  readonly strange = new Set<string>();
  sessions = 0;
  readonly #edges: ReadonlyMap<string, MachineEdge>;
  readonly #known: Known[] = [];
  /** Which of a handler's sessions was the right one last time: it is tried first. */
  readonly #luck = new Map<EventType, number>();

  constructor(edges: readonly MachineEdge[]) {
    this.#edges = new Map(edges.map((e) => [idOf(e), e]));
  }

  async go(way: Way): Promise<Session> {
    const session = await this.run(way.drawn);
    this.#known.push({ way, visits: session.visits });
    return session;
  }

  async run(drawn: StormCase): Promise<Session> {
    const session = await runReal(drawn);
    this.sessions++;
    for (const edge of session.edges) (this.#edges.has(edge) ? this.driven : this.strange).add(edge);
    const line = JSON.stringify(drawn);
    for (const what of session.wrong) this.troubles.push({ what, line });
    return session;
  }

  /** @returns true when a session has taken this edge, now or before */
  async drive(edge: MachineEdge): Promise<boolean> {
    const id = idOf(edge);
    let tries = 0;
    for (const chance of this.#chances(edge)) {
      if (this.driven.has(id)) return true;
      const sessions = HANDLERS[edge.event](chance);
      const lucky = this.#luck.get(edge.event) ?? 0;
      const sorted = [...sessions.keys()].sort((a, b) => Number(b === lucky) - Number(a === lucky));
      for (const k of sorted) {
        if (tries++ >= MOST_TRIES) return false;
        await this.run(sessions[k] as StormCase);
        if (!this.driven.has(id)) continue;
        this.#luck.set(edge.event, k);
        return true;
      }
    }
    return this.driven.has(id);
  }

  /** Every stay in the state the edge begins in, in the sessions known: long ones first, a short one is hard to hit. */
  #chances({ from, event }: MachineEdge): Chance[] {
    const key = keyOf(from);
    const phase = stateOf(from).split('.')[0];
    const chances: Chance[] = [];
    for (const { way, visits } of this.#known) {
      if (way.only !== undefined && !way.only.includes(event)) continue;
      const startedMs = visits[1]?.sinceMs ?? Number.NaN;
      for (const visit of visits) {
        if (visit.key !== key) continue;
        const phaseMs = visits.find((v) => v.state.split('.')[0] === phase)?.sinceMs ?? Number.NaN;
        chances.push({ drawn: way.drawn, visit, startedMs, phaseMs });
      }
    }
    const lasted = ({ visit }: Chance): number => visit.untilMs - visit.sinceMs;
    return chances.sort((a, b) => lasted(b) - lasted(a));
  }
}

export const idOf = ({ from, event }: MachineEdge): string => edgeId(keyOf(from), event);
