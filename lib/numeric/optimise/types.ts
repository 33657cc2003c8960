/** One adjustable (or held) quantity of a fit. */
export interface FitParameterInput {
  /** Name shown in reports and messages. */
  readonly name: string;
  /** Value the search starts from. */
  readonly start: number;
  /** Smallest value allowed; no limit when absent. */
  readonly lower?: number;
  /** Largest value allowed; no limit when absent. */
  readonly upper?: number;
  /** Hold the parameter at `start`. */
  readonly fixed?: boolean;
  /** A typical size, used for derivative steps where the value itself is near zero. */
  readonly scale?: number;
  /** UCUM code of the parameter, for reports only. */
  readonly unit?: string;
}

/** Least squares stated by its residuals. */
export interface ResidualProblem {
  /** Number of residuals. */
  readonly count: number;
  readonly parameters: readonly FitParameterInput[];
  /**
   * Writes the `count` residuals at the parameters `p` (all of them, fixed ones too, in the order of `parameters`).
   * Either sign will do; already weighted where weights are wanted.
   */
  residuals(p: Float64Array, out: Float64Array): void;
  /** Writes the derivatives of the residuals by the free parameters, row by row (`count` rows of as many columns as are
   * free). */
  jacobian?(p: Float64Array, out: Float64Array): void;
}

/** Least squares stated by a model `y = f(x; p)` and its data. */
export interface ModelProblem {
  readonly x: ArrayLike<number>;
  readonly y: ArrayLike<number>;
  /** Weight of each squared residual (1/variance for absolute weights). All 1 when absent. */
  readonly weights?: ArrayLike<number>;
  readonly parameters: readonly FitParameterInput[];
  /** The model at `x`. */
  model(x: number, p: Float64Array): number;
  /** Writes the derivatives of the model by ALL parameters (fixed ones too) into `out`. */
  gradient?(x: number, p: Float64Array, out: Float64Array): void;
}

/** What is to be fitted: residuals, or a model with the data it is held against. */
export type LeastSquaresProblem = ResidualProblem | ModelProblem;

/** How much a large residual counts: see `robustLoss`. */
export type LossName = "linear" | "soft-l1" | "huber" | "cauchy";

/**
 * How the covariance is computed.
 * - `independent`: residual variance times the inverse of JᵀJ: right when residuals are independent.
 * - `autoregressive`: allows for residuals correlated along the sample order by an autoregressive model of the
 * residuals.
 * - `newey-west`: allows for correlation (and unequal variance) without a model, with a Bartlett kernel.
 */
export type CovarianceKind = "independent" | "autoregressive" | "newey-west";

/** Choices of a least-squares fit; every one has a default. */
export interface LeastSquaresOptions {
  /** Loss on residuals; `linear` is ordinary least squares. */
  readonly loss?: LossName;
  /** Residual size beyond which the loss bends, in residual units. Found from the residuals (1.4826 MAD) when
   * absent. */
  readonly lossScale?: number;
  /** Coverage of the intervals, 0.95 when absent. */
  readonly level?: number;
  /** `independent` when absent. */
  readonly covariance?: CovarianceKind;
  /** Residuals are already in units of their standard deviation: do not rescale the covariance by their scatter. */
  readonly absoluteWeights?: boolean;
  /** Most trust-region iterations per attempt, 2000 when absent. */
  readonly maxIterations?: number;
  /** Stop when the parameters are within this many of their own standard errors of the minimum, 1e-9 when absent. */
  readonly tolerance?: number;
  /** Try the other search policies when the first ends at a doubtful point; true when absent. */
  readonly retries?: boolean;
}

/** Why a search ended. */
export type StopCode =
  | "converged" // nearer to the minimum than `tolerance` standard errors
  | "rounding" // nothing further to gain in double precision
  | "exact" // residuals are zero
  | "iterations" // iteration limit
  | "singular" // a direction of the parameters has no influence on the residuals
  | "not-finite" // residuals or derivatives are not finite at the start
  | "too-few" // fewer residuals than free parameters
  | "nothing-free"; // every parameter is fixed

/** One parameter of a fit with its uncertainty, in the parameter's own unit. */
export interface FitParameter {
  readonly name: string;
  readonly value: number;
  /** Standard error; 0 for a fixed parameter, NaN where the data do not determine it. */
  readonly standardError: number;
  /** Interval at `level` by linearisation. */
  readonly low: number;
  readonly high: number;
  readonly start: number;
  readonly lower: number;
  readonly upper: number;
  readonly fixed: boolean;
  /** Ended on a bound: its interval is not to be trusted. */
  readonly atBound: boolean;
  readonly unit?: string;
}

/** What the residuals look like in sample order. */
export interface ResidualDiagnostics {
  /** Lag-1 autocorrelation. */
  readonly lag1: number;
  /** Durbin-Watson statistic; near 2 without correlation, towards 0 with positive correlation. */
  readonly durbinWatson: number;
  /** Wald-Wolfowitz runs test on the signs of the residuals. */
  readonly runs: {
    readonly count: number;
    readonly expected: number;
    readonly z: number;
    readonly pValue: number;
  };
  /** Number of independent samples that would carry as much information on a mean. */
  readonly effectiveSamples: number;
  /** Skewness and excess kurtosis. */
  readonly skewness: number;
  readonly excessKurtosis: number;
  /** Residuals beyond 5 robust standard deviations. */
  readonly outliers: number;
}

/** What a least-squares fit found. Plain data. */
export interface FitResult {
  readonly parameters: readonly FitParameter[];
  /** All parameter values in the order of the problem. */
  readonly values: Float64Array;
  /** Index (into `parameters`) of each free parameter; rows and columns of `covariance` follow it. */
  readonly free: readonly number[];
  /** Row-major, free by free. */
  readonly covariance: Float64Array;
  readonly correlation: Float64Array;
  readonly covarianceKind: CovarianceKind;
  readonly level: number;
  /** Number of residuals. */
  readonly count: number;
  readonly degreesOfFreedom: number;
  readonly sumOfSquares: number;
  /** Square root of sumOfSquares / degreesOfFreedom. */
  readonly residualStandardDeviation: number;
  readonly residuals: Float64Array;
  /** Derivatives of the residuals by the free parameters at the solution, row-major. */
  readonly jacobian: Float64Array;
  /** Model form only: abscissa, data, fitted values and the confidence band of the fitted curve at `level`. */
  readonly x?: Float64Array;
  readonly observed?: Float64Array;
  readonly fitted?: Float64Array;
  readonly bandLow?: Float64Array;
  readonly bandHigh?: Float64Array;
  readonly loss: LossName;
  /** Scale of the loss in use (robust losses only). */
  readonly lossScale?: number;
  readonly stop: {
    readonly code: StopCode;
    readonly converged: boolean;
    /** One sentence a person reads. */
    readonly message: string;
    readonly iterations: number;
    /** Residual evaluations, those for numeric derivatives included. */
    readonly evaluations: number;
    readonly jacobians: number;
    /** Search policies tried, in order. */
    readonly attempts: readonly string[];
    /** Distance to the minimum in standard errors (relative offset of Bates and Watts). */
    readonly relativeOffset: number;
    /** Ratio of the largest to the smallest singular value of the column-scaled Jacobian. */
    readonly condition: number;
  };
  readonly diagnostics: ResidualDiagnostics;
  /** What a reader must know before using the numbers. */
  readonly warnings: readonly string[];
}
