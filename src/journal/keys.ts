/**
 * Ed25519 signatures of seals (RFC 8032, by the platform's own library). The private key stays with whoever
 * vouches for the charger; the public one goes to whoever audits.
 */
import {
  createHash,
  createPrivateKey,
  createPublicKey,
  generateKeyPairSync,
  type KeyObject,
  sign,
  verify,
} from 'node:crypto';
import { InputError } from '../host/input-error.js';
import { signedText } from './format.js';
import { hashOnly, type Sealer } from './writer.js';

const EXPECTED = 'expected an Ed25519 key in PEM, as `loopwarden keys new` writes it';

export interface Signing {
  readonly sealer: Sealer;
  /** Fingerprint of the public key. */
  readonly key: string;
}

/** SHA-256 over the public key in DER (SubjectPublicKeyInfo), hex. */
export function fingerprintOf(key: KeyObject): string {
  const der = createPublicKey(key.export({ type: 'spki', format: 'pem' })).export({
    type: 'spki',
    format: 'der',
  });
  return createHash('sha256').update(der).digest('hex');
}

export interface KeyPair {
  readonly privatePem: string;
  readonly publicPem: string;
  readonly fingerprint: string;
}

export function newKeyPair(): KeyPair {
  const { privateKey, publicKey } = generateKeyPairSync('ed25519');
  return {
    privatePem: privateKey.export({ type: 'pkcs8', format: 'pem' }) as string,
    publicPem: publicKey.export({ type: 'spki', format: 'pem' }) as string,
    fingerprint: fingerprintOf(publicKey),
  };
}

/** @param shown where the text came from, for people @throws InputError */
export function signingWith(privatePem: string, shown: string): Signing {
  let key: KeyObject;
  try {
    key = createPrivateKey(privatePem);
  } catch {
    throw new InputError(`${shown} is not a private key; ${EXPECTED}`);
  }
  if (key.asymmetricKeyType !== 'ed25519')
    throw new InputError(`${shown} is not an Ed25519 key; ${EXPECTED}`);
  return {
    key: fingerprintOf(createPublicKey(privatePem)),
    sealer: (previousHash, block) => {
      const { hash } = hashOnly(previousHash, block);
      return { hash, sig: sign(null, Buffer.from(signedText(hash)), key).toString('base64') };
    },
  };
}

export interface Verifier {
  readonly fingerprint: string;
  holds(hash: string, sig: string): boolean;
}

/** @throws InputError */
export function verifierWith(publicPem: string, shown: string): Verifier {
  // A private key would yield its public half: who audits should not have it.
  if (publicPem.includes('PRIVATE KEY'))
    throw new InputError(
      `${shown} is a private key; give the public one, and keep this one where it belongs`,
    );
  let key: KeyObject;
  try {
    key = createPublicKey(publicPem);
  } catch {
    throw new InputError(`${shown} is not a public key; ${EXPECTED}`);
  }
  if (key.asymmetricKeyType !== 'ed25519')
    throw new InputError(`${shown} is not an Ed25519 key; ${EXPECTED}`);
  return {
    fingerprint: fingerprintOf(key),
    holds: (hash, sig) => {
      const bytes = Buffer.from(sig, 'base64');
      // Base64 has spare bits in its last letter: only the one spelling that was written is taken.
      return bytes.toString('base64') === sig && verify(null, Buffer.from(signedText(hash)), key, bytes);
    },
  };
}
