import type { Hypothesis } from "./hypotheses.js";
import type { Meaning } from "./roles.js";

/** Something the numbers of two or three columns show together. */
export interface Relation {
  readonly columns: readonly number[];
  /** What it adds to the log likelihood when the columns (in that order) are these. */
  readonly score: (hypotheses: readonly Hypothesis[]) => number;
  /** The part of it that only the units decide: a model of the numbers knows nothing of that. */
  readonly ofUnits?: (hypotheses: readonly Hypothesis[]) => number;
  /** In words, for a person. */
  readonly text: string;
  /** Relations of one family are not independent (several currents that all move one shaft): together they count little
   * more than one. */
  readonly family?: string;
  /** Relations of this name hold among all of a group of columns when they hold at all (set, actual and filtered value
   * follow each other). */
  readonly mutual?: string;
  /** The fitted model of the numbers was shown nothing of the kind: it counts in full beside it. */
  readonly unseen?: boolean;
  /** Roles of all its columns that are worth trying at once. */
  readonly proposals?: readonly (readonly Meaning[])[];
}

/** The columns of a table with everything each may be. */
export interface JointProblem {
  readonly hypotheses: readonly (readonly Hypothesis[])[];
  readonly relations: readonly Relation[];
  /** Motor a column belongs to; undefined for what all motors share. */
  readonly motors: readonly (string | undefined)[];
  /** How much the evidence of each column says the same twice: see `tempers`. */
  readonly tempers?: readonly number[];
}

/** One hypothesis with its probability. */
export interface Weighed {
  readonly hypothesis: Hypothesis;
  readonly probability: number;
}
