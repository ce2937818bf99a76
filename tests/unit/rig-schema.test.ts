import path from 'node:path';
import { describe, expect, it } from 'vitest';
import { packageRoot, realFiles } from '../../src/host/files.js';
import { instrumentJsonSchema } from '../../src/rig/instrument-schema.js';
import { rigJsonSchema } from '../../src/rig/json-schema.js';

describe('config/rig.schema.json', () => {
  it('is in step with the schema; if not, write rigJsonSchema() into it and format it', () => {
    const text = realFiles.readText(path.join(packageRoot(), 'config', 'rig.schema.json'));
    expect(JSON.parse(text)).toEqual(rigJsonSchema());
  });

  it('asks a whole rig for everything and a variant only for its name', () => {
    const schema = rigJsonSchema();
    const [partial, whole] = schema.anyOf as [object, { required: string[]; properties: object }];
    expect(partial).toEqual({ required: ['extends', 'name', 'title'] });
    expect(whole.required).toContain('converter');
    expect(whole.properties).toHaveProperty('connection.properties.cable.required');
    expect(Object.keys(schema.properties as object)).toContain('extends');
    expect(schema).not.toHaveProperty('required');
  });
});

describe('config/instruments/instrument.schema.json', () => {
  it('is in step with the schema; if not, write `loopwarden schema --instrument` into it and format it', () => {
    const text = realFiles.readText(
      path.join(packageRoot(), 'config', 'instruments', 'instrument.schema.json'),
    );
    expect(JSON.parse(text)).toEqual(instrumentJsonSchema());
  });
});
