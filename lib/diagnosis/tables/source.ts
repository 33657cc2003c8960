/** Where a number of a table comes from. */
export type Source = "physics" | "calibration run" | "common practice";
