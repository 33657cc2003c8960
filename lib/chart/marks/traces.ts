import type { quantityColor, verdictColor } from "./palette.js";

/** One line of a panel. */
export interface TraceSeries {
  /** What the legend says, for instance `speed measured`. */
  readonly name: string;
  readonly values: ArrayLike<number>;
  /** A command is drawn as a dashed step in ink, a model as a dash-dotted line; measured when absent. */
  readonly kind?: "measured" | "command" | "model";
  /** Samples left out of the line because they are false: drawn as crosses, at the edge where they lie beyond the
   * axis. */
  readonly aside?: readonly { readonly time: number; readonly value: number }[];
  /** Colour; that of the panel's quantity when absent. */
  readonly color?: string;
}

/** One drawing area: a quantity over time. */
export interface TracePanel {
  /** Axis title with the unit, for instance `Current (A)`. */
  readonly title: string;
  /** Chooses the colour. */
  readonly quantity?: keyof typeof quantityColor;
  readonly series: readonly TraceSeries[];
  /** Horizontal lines, such as a current limit. */
  readonly limits?: readonly { readonly value: number; readonly text: string }[];
  /** What the vertical axis spans at least, so that panels of several charts can be compared. */
  readonly span?: readonly [number, number];
  /** Height, pixels. */
  readonly height?: number;
}

/** A marked stretch of time. */
export interface TraceMark {
  readonly start: number;
  readonly end: number;
  readonly label: string;
  readonly verdict?: keyof typeof verdictColor;
}

/** Traces over a common time. */
export interface Traces {
  /** s. */
  readonly time: ArrayLike<number>;
  readonly panels: readonly TracePanel[];
  readonly marks?: readonly TraceMark[];
}
