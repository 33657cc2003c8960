import type { VerdictWord } from "../diagnosis/types.js";

/** One row: what it is, how far the data can be trusted, the worst finding, its cause and remedy, what to ask for. */
export interface TriageRow {
  readonly customer: string;
  readonly motor: string;
  /** Files, from what came in. */
  readonly files: readonly string[];
  readonly recordings: number;
  readonly trials: number;
  /** What was recorded: kinds of trial, and of drive where that is clear. */
  readonly what: string;
  /** Worst verdict; absent where there is nothing to judge. */
  readonly worst?: VerdictWord;
  /** The answer in words, or why there is nothing to judge. */
  readonly finding: string;
  /** `sound`, or the gravest thing seen in the data. */
  readonly data: string;
  /** Cause of the worst trial, with its probability. */
  readonly cause?: string;
  readonly probability?: number;
  readonly remedy?: string;
  /** The most telling question or test, or the next step where none is open. */
  readonly ask: string;
  /** What can hurt someone. */
  readonly caution?: string;
}
