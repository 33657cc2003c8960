/**
 * A number with its uncertainty: what every estimating function returns, never a bare number.
 *
 * @example
 * const kv: Estimate = { value: 103, low: 101, high: 105, unit: "{rev}/min/V", method: "plateau",
 *   convention: "line-to-line peak, space-vector modulation" };
 */
export interface Estimate {
  /** Best value, in `unit`. */
  readonly value: number;
  /** Lower end of the interval at `level`. */
  readonly low: number;
  /** Upper end of the interval at `level`. */
  readonly high: number;
  /** UCUM code of all three numbers (for instance `N.m/A`). `1` for a plain number. */
  readonly unit: string;
  /** How it was obtained, in a few words a person reads. */
  readonly method: string;
  /** Coverage the interval claims; 0.95 when absent. */
  readonly level?: number;
  /** Convention where the quantity has several (RMS or peak, line-to-line or phase, ...). */
  readonly convention?: string;
  /** Number of samples that stood behind it. */
  readonly samples?: number;
  /** Only an upper limit is known: `value` and `low` are the physical bound (zero), `high` is the limit. */
  readonly limit?: "upper";
  /** Channels it was computed from. */
  readonly channels?: readonly string[];
}
