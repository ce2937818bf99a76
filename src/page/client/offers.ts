/**
 * What is offered to whom. Only what a person's role can ask at all; an order that would be unsafe now is
 * offered all the same, because being refused, with the reason, is what it is good for.
 */
import type { About, Control, Me, OrderName, Snapshot } from './contract.js';

export const mayOrder = (me: Me): boolean => me.role !== 'watcher';
export const mayMakeFaults = (me: Me, about: About): boolean => me.role === 'engineer' && about.simulated;
export const mayInvite = (me: Me): boolean => me.role === 'engineer';

/** In the order in which a session meets them. Trip now is everybody's. */
export function ordersFor(me: Me): OrderName[] {
  return mayOrder(me)
    ? ['trip-now', 'start', 'stop', 'limit-current', 'sample-pilot', 'acknowledge', 'free-plug']
    : ['trip-now'];
}

/** Said beside the orders of somebody who does not hold control; null when they would be taken. */
export function controlNote(me: Me, control: Control): string | null {
  if (!mayOrder(me)) return 'You are watching. Trip now is yours too; every other order needs an operator.';
  if (control.holder === me.name) return null;
  const who = control.holder === null ? 'Nobody holds control' : `${control.holder} holds control`;
  return `${who}: your orders will be refused until you do. Trip now is always taken.`;
}

export type ControlAct = 'take' | 'release' | 'offer' | 'accept';

/** What could be done about control by this person. */
export function controlActs(me: Me, control: Control): ControlAct[] {
  if (!mayOrder(me)) return [];
  const holds = control.holder === me.name;
  const acts: ControlAct[] = holds ? ['release', 'offer'] : control.offeredTo === me.name ? ['accept'] : [];
  if (!holds && control.offeredTo !== me.name) acts.push('take');
  return acts;
}

/** Those control could be offered to. */
export const offerable = (me: Me, control: Control): string[] =>
  control.people.filter((p) => p.name !== me.name && p.role !== 'watcher').map((p) => p.name);

/** What an acknowledgement from here may meet; null when nothing is known against it. */
export function acknowledgeNote(me: Me, about: About, snapshot: Snapshot): string | null {
  if (me.remote && about.acknowledgeFrom === 'charger')
    return 'A trip of this charger is acknowledged on its own machine; from here it will be refused.';
  if (snapshot.latch === null && !snapshot.tripped) return 'No trip is latched.';
  return null;
}
