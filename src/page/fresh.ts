/** Whether a reading may still be shown as read. */
import { readingDeadlineMs } from '../checks/freshness.js';
import type { AssignableRole } from '../rig/roles.js';
import type { Rig } from '../rig/schema.js';

/** @param sinceMs since the session looked last: what it saw then is as much older */
export const isStale = (
  role: AssignableRole,
  { ageMs }: { readonly ageMs: number },
  sinceMs: number,
  rig: Rig,
): boolean => !(ageMs + sinceMs <= readingDeadlineMs(role, rig));
