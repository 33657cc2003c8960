import type { ColumnNumbers } from "./columnNumbers.js";
import type { Windows } from "./windows.js";

/** One column of numbers as the relations see it. */
export interface NumberColumn {
  /** Its place in the table. */
  readonly index: number;
  /** Its place among the columns of numbers, as in the windows. */
  readonly place: number;
  readonly label: string;
  readonly values: Float64Array;
  readonly numbers: ColumnNumbers;
  /** Its heading names a quantity. */
  readonly named: boolean;
  /** The unit that its heading says. */
  readonly unit: string | undefined;
}

/** What the comparison of two columns needs to know of the table. */
export interface Compared {
  readonly windows: Windows;
  /** Place of the time column in the table, when there is one. */
  readonly time: number | undefined;
  /** The rows are steady points and no samples: nothing is the rate of anything. */
  readonly steady: boolean;
  /** Whether a column may be of a quantity, by what else is known of it. */
  readonly mayBe: (index: number, quantity: "speed" | "angle" | "current") => boolean;
  /** Whether two columns belong to different motors. */
  readonly apart: (a: number, b: number) => boolean;
}
