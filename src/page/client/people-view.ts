/** Who is signed in, who holds control and how it changes hands, and invitations for others. */
import type { Control, ControlAsk, Invitation, Me, Snapshot } from './contract.js';
import { button, byId, el, replaceWhen, setText } from './dom.js';
import { linkFor } from './invitation.js';
import { post } from './net.js';
import { type ControlAct, controlActs, mayInvite, offerable } from './offers.js';
import type { RefusalView } from './refusal-view.js';
import { clockTime } from './words.js';

const ROLE_WORDS = { watcher: 'watches', operator: 'operator', engineer: 'engineer' } as const;

export class PeopleView {
  readonly #me: Me;
  readonly #refusals: RefusalView;
  readonly #taken: (control: Control) => void;

  constructor(me: Me, refusals: RefusalView, taken: (control: Control) => void) {
    this.#me = me;
    this.#refusals = refusals;
    this.#taken = taken;
    byId('invite').replaceChildren(...(mayInvite(me) ? [this.#invite()] : []));
  }

  draw({ control }: Snapshot): void {
    const holder = control.holder === null ? 'Nobody holds control' : `Control: ${control.holder}`;
    const mine = control.holder === this.#me.name ? 'You hold control' : holder;
    setText(byId('control-word'), `${this.#me.name}, ${ROLE_WORDS[this.#me.role]} · ${mine}`);
    replaceWhen(byId('people-list'), JSON.stringify(control), () =>
      control.people.map((p) =>
        el(
          'li',
          {},
          el('span', { class: 'shape', 'aria-hidden': 'true' }, p.name === control.holder ? '■ ' : '□ '),
          el('strong', {}, p.name),
          ` ${ROLE_WORDS[p.role]}`,
          p.name === this.#me.name ? ' (you)' : '',
          p.name === control.holder ? ', holds control' : '',
          p.name === control.offeredTo ? ', is offered control' : '',
          p.watching ? '' : ', page not open',
        ),
      ),
    );
    const acts = controlActs(this.#me, control);
    const to = offerable(this.#me, control);
    // What one needs first stands in the head of the page, in sight whatever is scrolled.
    const first = acts.filter((act) => act === 'take' || act === 'accept');
    replaceWhen(byId('control-take'), JSON.stringify([first, control.holder]), () =>
      this.#acts(first, [], control),
    );
    const rest = acts.filter((act) => act !== 'take' && act !== 'accept');
    replaceWhen(byId('control-acts'), JSON.stringify([rest, to]), () => this.#acts(rest, to, control));
  }

  #acts(acts: readonly ControlAct[], to: readonly string[], control: Control): HTMLElement[] {
    return acts.flatMap((act): HTMLElement[] => {
      if (act === 'take')
        return [
          button(
            control.holder === null ? 'Take control' : `Take control from ${control.holder}`,
            () => void this.#do({ do: 'take' }),
          ),
        ];
      if (act === 'release') return [button('Release control', () => void this.#do({ do: 'release' }))];
      if (act === 'accept') return [button('Accept control', () => void this.#do({ do: 'accept' }))];
      if (to.length === 0) return [];
      const whom = el(
        'select',
        { 'aria-label': 'Offer control to' },
        ...to.map((name) => el('option', {}, name)),
      );
      return [
        el(
          'span',
          { class: 'joined' },
          button('Offer control to', () => void this.#do({ do: 'offer', to: whom.value })),
          whom,
        ),
      ];
    });
  }

  async #do(ask: ControlAsk): Promise<void> {
    const answer = await post<Control>('/api/control', ask);
    if (answer.problem !== null) this.#refusals.problem(`${ask.do} control`, answer.problem);
    else if (answer.body !== null) this.#taken(answer.body);
  }

  #invite(): HTMLElement {
    const role = el(
      'select',
      { 'aria-label': 'Role of the guest' },
      ...['watcher', 'operator', 'engineer'].map((r) => el('option', {}, r)),
    );
    const said = el('p', { class: 'note', 'aria-live': 'polite' });
    const link = el('input', {
      type: 'text',
      readonly: true,
      'aria-label': 'Link to give to the guest',
      hidden: true,
    });
    link.addEventListener('focus', () => link.select());
    const make = async (): Promise<void> => {
      const answer = await post<Invitation>('/api/invitations', { role: role.value });
      if (answer.problem !== null) this.#refusals.problem('invite somebody', answer.problem);
      if (answer.body === null) return;
      link.value = linkFor(location.origin, answer.body.invitation);
      link.hidden = false;
      link.focus();
      setText(
        said,
        `For one ${answer.body.role}, until ${clockTime(answer.body.untilMs)}. Whoever has this link can use it.`,
      );
    };
    return el(
      'div',
      { class: 'invite' },
      el(
        'span',
        { class: 'joined' },
        button('Invite a', () => void make()),
        role,
      ),
      link,
      said,
    );
  }
}
