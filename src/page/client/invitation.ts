/** The invitation in the address the command printed: `#invitation=TOKEN`. A fragment is never sent anywhere. */

export const invitationIn = (fragment: string): string | null => {
  const token = new URLSearchParams(fragment.replace(/^#/, '')).get('invitation');
  return token === null || token === '' ? null : token;
};

/** The address that is left when the invitation was taken out, so that it stays in no history. */
export const withoutInvitation = (path: string, query: string): string => `${path}${query}`;

/** A link to give to somebody else. */
export const linkFor = (origin: string, token: string): string =>
  `${origin}/#invitation=${encodeURIComponent(token)}`;
