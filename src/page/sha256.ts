/** What a text is told apart by, and a secret kept as: SHA-256, base64. */
import { createHash } from 'node:crypto';

export const sha256 = (text: string): string => createHash('sha256').update(text).digest('base64');
