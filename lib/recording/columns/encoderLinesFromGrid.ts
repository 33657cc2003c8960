import { quantisationStep } from "../../numeric/series/quantisationStep.js";
import type { Channel } from "../types.js";

/** Encoder lines as the grid of the position shows them. */
export interface GridLines {
  /** Lines before quadrature; counts per turn are four times this. */
  readonly lines: number;
  /** The same before rounding to a whole line. */
  readonly exact: number;
  /** One count, rad. */
  readonly step: number;
}

/**
 * Encoder lines from the grid on which a position lies: its smallest step is one count, and a turn has 4 * lines counts
 * (quadrature). Undefined when the position is on no grid, or the grid gives no whole number of lines. It says nothing
 * new for a position that was converted from counts with a stated line count.
 *
 * @param position channel in rad.
 * @example
 * encoderLinesFromGrid(recording.channels.position)?.lines; // => 1024
 */
export function encoderLinesFromGrid(position: Channel | undefined): GridLines | undefined {
  if (position === undefined) return undefined;
  const step = quantisationStep(position.data);
  if (!(step > 0)) return undefined;
  const exact = (2 * Math.PI) / (4 * step);
  const lines = Math.round(exact);
  // A text file rounds its angles: the step is known to about a part in ten thousand, or to half a line.
  if (lines < 1 || Math.abs(exact - lines) > Math.max(0.02, 1e-4 * exact)) return undefined;
  return { lines, exact, step };
}
