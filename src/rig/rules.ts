/**
 * Figures of a rig held against each other. Each rule says which keys, which figures and what to do; it knows
 * nothing of files and lines. A rule that meets a figure the schema already refused is passed over, the others
 * still run, so that a person sees all faults at once.
 */
import type { Fault } from '../host/input-error.js';
import type { Checked } from './check-schema.js';
import { type Located, placeOf } from './locate.js';
import { BATTERY_RULES } from './rules/battery.js';
import { CHARGER_RULES } from './rules/charger.js';
import { CONNECTION_RULES } from './rules/connection.js';
import { ISOLATION_RULES } from './rules/isolation.js';
import { LINK_RULES } from './rules/link.js';
import type { Rule, Say } from './rules/rule.js';
import { TIME_RULES } from './rules/times.js';
import type { Rig } from './schema.js';

const RULES: readonly Rule[] = [
  ...CONNECTION_RULES,
  ...CHARGER_RULES,
  ...ISOLATION_RULES,
  ...BATTERY_RULES,
  ...LINK_RULES,
  ...TIME_RULES,
];

export interface RuleVerdict {
  readonly faults: readonly Fault[];
  readonly warnings: readonly Fault[];
}

export function checkRules(checked: Checked<Rig>, data: unknown, root: Located): RuleVerdict {
  const rig = checked.ok ? checked.value : readableRig(data, new Set(checked.paths));
  const faults: Fault[] = [];
  const warnings: Fault[] = [];
  const into =
    (list: Fault[]): Say =>
    (path, message) => {
      const keys = path.split('.');
      list.push({ ...placeOf(root, keys), path, message });
    };
  for (const rule of RULES) {
    try {
      rule(rig, into(faults), into(warnings));
    } catch (error) {
      if (!(error instanceof Unreadable)) throw error;
    }
  }
  return { faults, warnings };
}

class Unreadable extends Error {}

/** The rig as far as it can be read: touching a figure the schema refused throws `Unreadable`. */
function readableRig(data: unknown, refused: ReadonlySet<string>): Rig {
  const bad = new Set(
    [...refused].filter((p) => !p.endsWith('.source')).map((p) => p.replace(/\.value$/, '')),
  );
  if (bad.has('')) throw new Error('a rig that is no map has no rules');
  return guarded(bareLimits(data), bad, '') as Rig;
}

/** `{ value, source }` becomes its value, as the schema does it. */
function bareLimits(data: unknown): unknown {
  if (Array.isArray(data)) return data.map(bareLimits);
  if (typeof data !== 'object' || data === null) return data;
  if ('value' in data) return data.value;
  return Object.fromEntries(Object.entries(data).map(([key, value]) => [key, bareLimits(value)]));
}

function guarded(value: unknown, bad: ReadonlySet<string>, at: string): unknown {
  if (typeof value !== 'object' || value === null) return value;
  return new Proxy(value, {
    get(target, key) {
      if (typeof key === 'symbol') return Reflect.get(target, key);
      const path = at ? `${at}.${key}` : key;
      if (bad.has(path)) throw new Unreadable(path);
      return guarded(Reflect.get(target, key), bad, path);
    },
  });
}
