/** One measured figure of the benchmarks. */
export interface Measurement {
  readonly what: string;
  readonly value: number;
  readonly unit: string;
  /** What was aimed at, in words, where something was. */
  readonly target?: string;
  /** The figures behind the ratio. */
  readonly detail?: string;
}

/** The middle value (the upper one of two). */
export function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1];
}
