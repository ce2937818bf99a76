/** `loopwarden keys new`: a pair of keys for signing journals. */
import path from 'node:path';
import type { Command } from 'commander';
import { makeFolder, writeNewSecret } from '../host/durable-file.js';
import { newKeyPair } from '../journal/keys.js';
import { NOTICE } from './notice.js';
import { say } from './print.js';

interface Options {
  readonly out: string;
  readonly json?: boolean;
}

export function addKeys(program: Command): void {
  const keys = program.command('keys').description('keys for signing journals');
  keys
    .command('new')
    .description('make a pair of Ed25519 keys; files that are there are never written over')
    .requiredOption('--out <dir>', 'folder for journal-key.private.pem and journal-key.public.pem')
    .option('--json', 'one JSON object')
    .action(make);
}

function make({ out, json }: Options): void {
  makeFolder(out);
  const pair = newKeyPair();
  const privateFile = path.join(out, 'journal-key.private.pem');
  const publicFile = path.join(out, 'journal-key.public.pem');
  writeNewSecret(privateFile, pair.privatePem);
  writeNewSecret(publicFile, pair.publicPem);
  const { fingerprint } = pair;
  if (json) {
    say(JSON.stringify({ privateFile, publicFile, fingerprint }));
    return;
  }
  say(`${NOTICE}\n`);
  say(`private key   ${privateFile}: for \`run --sign\`; whoever has it can write journals in its name`);
  say(`public key    ${publicFile}: for \`audit --key\`; give it to whoever audits, beforehand`);
  say(`fingerprint   ${fingerprint}`);
}
