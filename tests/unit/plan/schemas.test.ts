/** The schemas for editors are those of the loaders, and what is shipped can be read. */
import path from 'node:path';
import { describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { packageRoot, realFiles } from '../../../src/host/files.js';
import { RENEWABLES, STORE, TARIFF } from '../../../src/plan/day-files.js';
import { type FileKind, planningJsonSchema, readPlanning } from '../../../src/plan/planning-file.js';
import { ROUTE } from '../../../src/plan/route.js';
import { TIMETABLE } from '../../../src/plan/timetable.js';

const config = path.join(packageRoot(), 'config');

const KINDS: readonly FileKind<z.ZodType<{ name: string }>>[] = [
  ROUTE,
  TIMETABLE,
  STORE,
  TARIFF,
  RENEWABLES,
] as never;

describe.each(KINDS)('a $name', (kind) => {
  it('has its schema in step; if not, write `loopwarden schema` of its kind into it and format it', () => {
    const text = realFiles.readText(path.join(config, `${kind.name}.schema.json`));
    expect(JSON.parse(text)).toEqual(planningJsonSchema(kind));
  });
  it('that is shipped can be read, and is named as its file', () => {
    const names = realFiles.list(path.join(config, kind.folder)).filter((f) => f.endsWith('.yaml'));
    expect(names.length).toBeGreaterThan(0);
    for (const file of names)
      expect(`${readPlanning(kind, path.join(config, kind.folder, file)).value.name}.yaml`).toBe(file);
  });
});
