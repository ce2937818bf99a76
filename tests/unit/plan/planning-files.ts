/** Files of plans that are nowhere on disk; what is not given is read from disk. */
import { type Files, realFiles } from '../../../src/host/files.js';

export const filesOf = (texts: Readonly<Record<string, string>>): Files => ({
  ...realFiles,
  exists: (file) => file in texts || realFiles.exists(file),
  readText: (file, mostBytes) => texts[file] ?? realFiles.readText(file, mostBytes),
  show: (file) => (file in texts ? file : realFiles.show(file)),
});
