/** Signing in: an invitation from the address, a name as people sign a log. */
import type { Me } from './contract.js';
import { byId, el, setHidden, setText } from './dom.js';
import { invitationIn, withoutInvitation } from './invitation.js';
import { get, post } from './net.js';

/** Takes the invitation out of the address before anything else is done with it. */
function takeInvitation(): string | null {
  const token = invitationIn(location.hash);
  if (token !== null) history.replaceState(null, '', withoutInvitation(location.pathname, location.search));
  return token;
}

function form(token: string): Promise<Me> {
  const name = el('input', {
    type: 'text',
    id: 'sign-in-name',
    required: true,
    maxlength: 40,
    autocomplete: 'name',
  });
  const said = el('p', { role: 'alert' });
  const made = el(
    'form',
    { class: 'sign-in' },
    el('h2', {}, 'Sign in'),
    el('p', {}, 'Your name stands beside every order you give, for all who look on and in the record.'),
    el('label', { for: 'sign-in-name' }, 'Your name'),
    name,
    el('button', { type: 'submit' }, 'Sign in'),
    said,
  );
  byId('sign-in').replaceChildren(made);
  name.focus();
  return new Promise((resolve) => {
    made.addEventListener('submit', (e) => {
      e.preventDefault();
      void post<Me>('/api/sign-in', { invitation: token, name: name.value.trim() }).then((answer) => {
        if (answer.body !== null) resolve(answer.body);
        else setText(said, answer.problem?.problem ?? 'It did not work.');
      });
    });
  });
}

function uninvited(): void {
  byId('sign-in').replaceChildren(
    el(
      'div',
      { class: 'sign-in' },
      el('h2', {}, 'You are not signed in'),
      el(
        'p',
        {},
        'Open the link that the command printed when it started, or one that an engineer made for you. Each works once.',
      ),
    ),
  );
}

function unreached(): void {
  byId('sign-in').replaceChildren(
    el(
      'div',
      { class: 'sign-in', role: 'alert' },
      el('h2', {}, 'The server of this page does not answer'),
      el(
        'p',
        {},
        'The charger, if one is running, goes on without this page. Load the page again when the command runs.',
      ),
    ),
  );
}

/** Who looks; never where somebody has neither a session nor an invitation. */
export async function signedIn(): Promise<Me> {
  const token = takeInvitation();
  setHidden(byId('sign-in'), false);
  if (token !== null) {
    const me = await form(token);
    setHidden(byId('sign-in'), true);
    return me;
  }
  const { body, status } = await get<Me>('/api/me');
  if (body !== null) {
    setHidden(byId('sign-in'), true);
    return body;
  }
  if (status === 0) unreached();
  else uninvited();
  // An invitation pasted into the address of a page that is open already.
  addEventListener('hashchange', () => {
    if (invitationIn(location.hash) !== null) location.reload();
  });
  return new Promise(() => {});
}

export async function signOut(): Promise<void> {
  await post('/api/sign-out', {});
  location.reload();
}
