/** Asks every port of a charger who is there, before anything is provoked: a hello, the welcome, and nothing else. */
import type { Clock } from '../host/clock.js';
import { InputError } from '../host/input-error.js';
import { newNonce, type RandomSource } from '../host/random.js';
import { decodeToSupervisor, encodeToDevice } from '../link/codec.js';
import type { Link } from '../link/link.js';
import type { Rig } from '../rig/schema.js';
import { HANDSHAKE_MS, HELLO_EVERY_MS, helloOf } from '../supervisor/handshake.js';
import type { Timeline } from './timeline.js';

type Answered = Timeline['welcomes'][number];

/** @throws PortError, and InputError naming a port where nobody answers */
export async function identify(
  links: readonly Link[],
  rig: Rig,
  clock: Clock,
  random: RandomSource,
): Promise<Answered[]> {
  const nonce = newNonce(random);
  const found: Answered[] = [];
  // One after the other: a port that is not there is told by its name, and none is left open.
  for (const [port, link] of links.entries()) found.push(await ask(link, port, nonce, rig, clock));
  return found;
}

async function ask(link: Link, port: number, nonce: string, rig: Rig, clock: Clock): Promise<Answered> {
  let cancel: () => void = () => {};
  const answered = new Promise<Answered | null>((resolve) => {
    let seq = 0;
    const hello = (leftMs: number): void => {
      if (leftMs <= 0) {
        resolve(null);
        return;
      }
      link.send(encodeToDevice(nonce, ++seq, helloOf(rig, port)));
      cancel = clock.after(HELLO_EVERY_MS, () => hello(leftMs - HELLO_EVERY_MS));
    };
    link
      .open({
        line: (text) => {
          const decoded = decodeToSupervisor(text);
          if (decoded.ok && decoded.frame.nonce === nonce && decoded.frame.body.verb === 'welcome')
            resolve({ ...decoded.frame.body, port });
        },
        down: () => resolve(null),
      })
      .then(
        () => hello(HANDSHAKE_MS),
        (error: unknown) => resolve(Promise.reject(error)),
      );
  });
  try {
    const welcome = await answered;
    if (welcome !== null) return welcome;
    throw new InputError(
      `port ${link.port}: no device answers there; no run was made. Check that it is switched on and speaks the line protocol`,
    );
  } finally {
    cancel();
    await link.close();
  }
}
