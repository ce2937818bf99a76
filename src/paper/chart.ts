/** What a figure on paper is drawn of, in the units of its axes. */

/** A place on the axis across, and a value; null where nothing could be read: the line is broken there. */
export type Point = readonly [x: number, y: number | null];

export interface Line {
  readonly name: string;
  readonly points: readonly Point[];
  /** The value stands until the next point. */
  readonly holds?: boolean;
  /** Each point is shown: few of them, and what lies between is not known. */
  readonly dots?: boolean;
}

/** A limit, drawn across. */
export interface Rule {
  readonly name: string;
  readonly y: number;
}

export interface Band {
  /** Position in the table of phases, from 1. */
  readonly number: number;
  readonly name: string;
  readonly from: number;
  readonly to: number;
}

export interface Sign {
  readonly kind: 'trip' | 'finding' | 'refusal';
  readonly x: number;
  readonly text: string;
}

/** A name at a place of a line, left out where there is no room for it. */
export interface Note {
  readonly x: number;
  readonly y: number;
  readonly text: string;
  /** Until when it holds: the longest come first where they compete for room. */
  readonly until: number;
}

/** A moment, drawn from top to bottom with its name above. */
export interface Mark {
  readonly x: number;
  readonly text: string;
  /** The one the figure is about stands out: thick, its name bold. */
  readonly strong?: boolean;
  /** What began it: dashed. */
  readonly cause?: boolean;
}

export interface FigureChart {
  /** Of the vertical axis. */
  readonly unit: string;
  readonly xTitle: string;
  readonly x: readonly [from: number, to: number];
  readonly lines: readonly Line[];
  readonly rules?: readonly Rule[];
  readonly bands?: readonly Band[];
  readonly signs?: readonly Sign[];
  readonly notes?: readonly Note[];
  readonly marks?: readonly Mark[];
  /** Of two figures one under the other: the upper has no axis below, the lower no names of marks. */
  readonly part?: 'upper' | 'lower';
  /** What a reader looks for first at the value 0. */
  readonly fromZero?: boolean;
  /** The axis spans no less, so that noise does not look like an event. */
  readonly leastSpan?: number;
  readonly log?: boolean;
  readonly height?: number;
}
