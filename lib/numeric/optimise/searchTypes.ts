import type { ResidualFunction } from "./numericJacobian.js";
import type { LossName, StopCode } from "./types.js";

/** How steps are scaled and how boldly the search begins. */
export interface SearchPolicy {
  readonly name: string;
  /**
   * `largest`: each parameter by the largest Jacobian column norm met so far (Moré 1978);
   * `current`: by the present column norm (Marquardt 1963);
   * `size`: by the size of the parameter itself (Levenberg 1944, in relative units).
   */
  readonly scaling: "largest" | "current" | "size";
  /** First trust radius as a multiple of the scaled length of the start. */
  readonly radius: number;
  /** Solve the parameters that enter linearly before the search begins. */
  readonly linearFirst?: boolean;
}

export interface SearchProblem {
  readonly count: number;
  readonly residuals: ResidualFunction;
  /** Row-major derivatives by the free parameters. */
  readonly jacobian?: ResidualFunction;
  readonly free: readonly number[];
  readonly lower: Float64Array;
  readonly upper: Float64Array;
  readonly typical: Float64Array;
  readonly loss: LossName;
  readonly lossScale: number;
  readonly maxIterations: number;
  readonly tolerance: number;
}

export interface SearchOutcome {
  p: Float64Array;
  /** Residuals at p (without the loss). */
  r: Float64Array;
  /** Column-major derivatives of the residuals at p (without the loss). */
  columns: Float64Array;
  /** Half the (robust) sum of squares. */
  cost: number;
  code: StopCode;
  iterations: number;
  evaluations: number;
  jacobians: number;
  relativeOffset: number;
  condition: number;
  /** Parameters held by a bound at the end. */
  atBound: boolean[];
}
