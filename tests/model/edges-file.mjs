/**
 * The file that holds every edge of the machine for people to review, and what differs from it. Plain JavaScript,
 * so that the test and the command that renews the file share it.
 */
import path from 'node:path';

export const EDGES_FILE = path.join(import.meta.dirname, 'edges.txt');
export const RENEW = 'npm run edge-table';

const HEAD = `# Every edge of the session machine (machines/session.ts), made by "${RENEW}"; do not edit by hand.
# A paragraph for each state: its tags, the flags it is stood in with, and a line for each event permitted in it:
#   event, next state, flags that changed, timers cancelled (-) and started (+), commands in their order.
# An event that is not listed in a state is refused there and does nothing.
`;

/** @param {readonly string[]} table */
export const fileText = (table) => `${HEAD}\n${table.join('\n')}\n`;

/** Each line with the state it stands under; spaces that only align are nothing. */
function linesOf(text) {
  let state = '';
  return text
    .split('\n')
    .filter((line) => line !== '' && !line.startsWith('#'))
    .map((line) => {
      if (!line.startsWith(' ')) [state] = line.split(' ');
      return `${state}: ${line.trim().replace(/ {2,}/g, ' ')}`;
    });
}

/** State and event of a line that differs. */
const edgeOf = (line) => line.split(' ').slice(1, 3).join(' ');

/**
 * @param {string} was what the file says
 * @param {string} is what it would say of the machine as it is
 * @returns {string[]} each line that is gone (-) or new (+), with its state, edge by edge; the order of lines is nothing
 */
export function differences(was, is) {
  const [old, now] = [linesOf(was), linesOf(is)];
  return [
    ...old.filter((line) => !now.includes(line)).map((line) => `- ${line}`),
    ...now.filter((line) => !old.includes(line)).map((line) => `+ ${line}`),
  ].sort((a, b) => edgeOf(a).localeCompare(edgeOf(b), 'en'));
}
