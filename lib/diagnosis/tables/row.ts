import type { CauseCode } from "./causes.js";
import type { Source } from "./source.js";

/** One finding and how likely it is under each cause. */
export interface LikelihoodRow {
  /** What was found, in words a person reads. */
  readonly finding: string;
  /** Likelihood of the finding under the causes named, 0 to 1 (a ratio where a row says so). */
  readonly likelihood: Readonly<Partial<Record<CauseCode, number>>>;
  /** Likelihood under every other cause; absent where the row says nothing of them. */
  readonly other?: number;
  readonly source: Source;
}

/** A number that logic holds something against. */
export interface Threshold {
  readonly value: number;
  /** UCUM code; "1" for a ratio or a probability. */
  readonly unit: string;
  /** What it decides. */
  readonly meaning: string;
  readonly source: Source;
}

/** Log likelihood of a row under one cause; 0 where the row says nothing of it. */
export function logOf(row: LikelihoodRow, cause: CauseCode): number {
  const value = row.likelihood[cause] ?? row.other;
  return value === undefined ? 0 : Math.log(value);
}
