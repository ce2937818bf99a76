/** The page in the browser: signs in, listens, and draws what is new at most once a frame. */
import { BenchView } from './bench-view.js';
import { ChainView } from './chain-view.js';
import type { About, Me, Snapshot } from './contract.js';
import { Diagram } from './diagram.js';
import { byId, el, setAttribute, setHidden, setText } from './dom.js';
import { EventsView } from './events-view.js';
import { GlanceView } from './glance-view.js';
import { goTo, type Shortcut, wireKeys } from './keys.js';
import { Live } from './live.js';
import { get } from './net.js';
import { OrdersView, wireTripNow } from './orders-view.js';
import { PeopleView } from './people-view.js';
import { PilotView } from './pilot-view.js';
import { RefusalView } from './refusal-view.js';
import { signedIn, signOut } from './sign-in.js';
import { wireTheme } from './theme.js';
import { TracesView } from './traces-view.js';
import { sessionTime } from './words.js';

interface Drawn {
  draw(snapshot: Snapshot): void;
}

/** What is drawn on a canvas takes no colours from the stylesheet by itself. */
let recolour = (): void => {};

function begin(about: About, me: Me): void {
  setText(byId('rig'), `${about.rig.title} (${about.rig.name})${about.simulated ? ', simulated' : ''}`);
  setText(byId('software'), about.software);
  byId('caution').replaceChildren(
    ...about.caution.map((line, i) => el(i === 0 ? 'strong' : 'span', {}, `${line} `)),
  );
  document.body.dataset.signedIn = me.role;

  const refusals = new RefusalView();
  const orders = new OrdersView(about, me, refusals);
  const pilot = new PilotView();
  const events = new EventsView(about);
  const live = new Live({
    events: (fresh, first) => {
      events.add(fresh);
      // What was refused before this page was opened is in the list.
      if (!first) for (const e of fresh) if (e.refusal !== null) refusals.show(e.refusal);
    },
    pilot: (p) => pilot.show(p),
    points: () => traces.changed(),
  });
  setHidden(byId('work'), false);
  const traces = new TracesView(live.store);
  const people = new PeopleView(me, refusals, (control) => {
    if (live.snapshot !== null) live.snapshot = { ...live.snapshot, control };
  });
  const views: Drawn[] = [
    new GlanceView(about),
    new Diagram(about),
    new ChainView(about),
    orders,
    people,
    new BenchView(about, me, refusals),
  ];

  wireTripNow(orders);
  recolour = (): void => {
    traces.recolour();
    pilot.redraw();
  };
  byId('sign-out').addEventListener('click', () => void signOut());
  wireKeys(shortcuts(orders, refusals, traces, about));

  let drawn: Snapshot | null = null;
  const frame = (nowMs: number): void => {
    live.tick(nowMs);
    if (live.snapshot !== null && live.snapshot !== drawn) {
      drawn = live.snapshot;
      for (const view of views) view.draw(drawn);
    }
    traces.frame();
    showLost(live, nowMs);
    requestAnimationFrame(frame);
  };
  void live.begin();
  requestAnimationFrame(frame);
}

/** Said once when it happens; the seconds beside it are for the eye alone. */
function showLost(live: Live, nowMs: number): void {
  const lost = live.hearing.lost(nowMs);
  setAttribute(document.body, 'data-link', lost ? 'lost' : 'heard');
  setText(
    byId('lost-age'),
    lost
      ? `last heard ${Math.round(live.hearing.silentS(nowMs))} s ago, at session time ${sessionTime(live.snapshot?.atMs ?? null)}`
      : '',
  );
  setText(
    byId('lost-text'),
    lost
      ? 'No connection to the server: everything below is old. The charger goes on without this page; its stop button is on the charger.'
      : '',
  );
}

function shortcuts(orders: OrdersView, refusals: RefusalView, traces: TracesView, about: About): Shortcut[] {
  const to = (key: string, id: string, words: string): Shortcut => ({ key, words, act: () => goTo(id) });
  return [
    {
      key: 'T',
      words: 'Trip now (with shift; not the emergency stop)',
      act: () => void orders.give({ order: 'trip-now' }),
    },
    { key: 'Esc', words: 'dismiss the newest refusal', act: () => void refusals.dismiss() },
    to('d', 'diagram', 'to the circuit'),
    to('o', 'orders', 'to the orders'),
    to('c', 'chain', 'to the chain of proofs'),
    to('e', 'events', 'to the events'),
    to(
      'g',
      'traces',
      'to the traces; there arrows move the cursor, shift and arrows the view, + and − zoom, 0 resets',
    ),
    { key: 'f', words: 'follow the newest points, or stand still', act: () => traces.toggleFollow() },
    to('p', 'people', 'to people and control'),
    ...(about.simulated ? [to('b', 'bench', 'to the bench')] : []),
    { key: '?', words: 'these shortcuts', act: () => byId<HTMLDialogElement>('help').showModal() },
  ];
}

async function start(): Promise<void> {
  wireTheme(() => recolour());
  const me = await signedIn();
  const about = await get<About>('/api/about');
  if (about.body === null) {
    setText(byId('lost-text'), about.problem?.problem ?? 'The server does not answer.');
    return;
  }
  begin(about.body, me);
}

void start();
