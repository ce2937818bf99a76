/** The types of what the server says and takes; nothing of the schemas themselves reaches the browser. */
import type { z } from 'zod';
import type * as api from '../api.js';

export type {
  About,
  FaultAsk,
  OrderAsk,
  OrderName,
  PageEvent,
  RefusalShown,
  Snapshot,
  StateMessage,
} from '../api.js';
export type Me = z.infer<typeof api.me>;
export type ControlAsk = z.infer<typeof api.controlAsk>;
export type Control = z.infer<typeof api.control>;
export type Pilot = z.infer<typeof api.pilot>;
export type Problem = z.infer<typeof api.problem>;
export type EventList = z.infer<typeof api.eventList>;
export type Traces = z.infer<typeof api.traces>;
export type Bench = z.infer<typeof api.bench>;
export type ProofState = z.infer<typeof api.proofState>;
export type Statement = z.infer<typeof api.statement>;
export type Invitation = z.infer<typeof api.invitation>;
/** One row of a trace, in the order of TRACE_COLUMNS. */
export type Row = readonly (number | null)[];
