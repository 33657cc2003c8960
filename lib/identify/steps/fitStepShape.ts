import { fitStepModel, scaledCovariance } from "./fitStepModel.js";
import { prepareStep } from "./preparedStep.js";
import type { StepShape } from "./stepShapes.js";
import { stepStart } from "./stepStart.js";

/** What is known of a step before one shape is fitted to it. */
export interface StepShapeOptions {
  /** Time at which the command steps, s; the first sample when absent. */
  readonly stepTime?: number;
  /** Fit a steady slope too. */
  readonly drift?: boolean;
}

/** One shape fitted: bare numbers for many records. */
export interface StepShapeFit {
  readonly shape: StepShape;
  /** `initial`, `slope` (with drift), `amplitude`, then those of the shape. */
  readonly names: readonly string[];
  readonly values: Float64Array;
  /** Standard errors on the assumption of independent residuals. */
  readonly standardErrors: Float64Array;
  /** Row-major, on the same assumption. */
  readonly covariance: Float64Array;
  readonly residualStandardDeviation: number;
  readonly converged: boolean;
}

const shapeNames: Readonly<Record<StepShape, readonly string[]>> = {
  "first-order": ["time constant"],
  "first-order-dead-time": ["time constant", "dead time"],
  "second-order": ["damping ratio", "natural frequency"],
  "second-order-critical": ["natural frequency"],
};

/**
 * Fits one known shape to a step response: values and covariance only, no choice of model, no diagnostics. For runs
 * over thousands of records; `fitStepResponse` is the careful one.
 *
 * @param time ascending, finite
 * @param values as many, finite
 * @returns undefined where the record does not determine the shape
 * @example
 * fitStepShape(time, values, "first-order")?.values[2]; // => 0.1000 (the time constant, s)
 */
export function fitStepShape(
  time: Float64Array,
  values: Float64Array,
  shape: StepShape,
  options: StepShapeOptions = {},
): StepShapeFit | undefined {
  if (time.length !== values.length)
    throw new RangeError(`there are ${time.length} times and ${values.length} values; they must be as many.`);
  const s = prepareStep(time, values, options.stepTime ?? time[0] ?? 0);
  const { span, height, center } = s;
  if (s.count - s.before < 6 || !(s.sums[5] > 0)) return undefined;
  const start = stepStart(s, shape === "first-order");
  const [a0, b0] =
    shape === "first-order"
      ? [start.first, 0]
      : shape === "first-order-dead-time"
        ? start.delayed
        : shape === "second-order"
          ? [start.a, start.b]
          : [start.a / 2, 0];
  const drift = options.drift ?? false;
  const fit = fitStepModel(s, shape, a0, b0, { drift });
  if (!fit) return undefined;
  const { a, b } = fit;
  const n = fit.parameters;
  const degrees = s.count - n;
  const scaled = scaledCovariance(fit);
  // Derivatives of the natural parameters by the scaled ones.
  const d = new Float64Array(n * n);
  const values0 = new Float64Array(n);
  let k = 0;
  values0[k] = center + height * fit.initial;
  d[k * n + k] = height;
  k++;
  if (drift) {
    values0[k] = (height * fit.slope) / span;
    d[k * n + k] = height / span;
    k++;
  }
  values0[k] = height * fit.amplitude;
  d[k * n + k] = height;
  k++;
  if (shape === "second-order") {
    const root = Math.sqrt(b);
    values0[k] = a / (2 * root);
    d[k * n + k] = 1 / (2 * root);
    d[k * n + k + 1] = -a / (4 * b * root);
    values0[k + 1] = 1 / (root * span);
    d[(k + 1) * n + k + 1] = -1 / (2 * b * root * span);
  } else if (shape === "second-order-critical") {
    values0[k] = 1 / (a * span);
    d[k * n + k] = -1 / (a * a * span);
  } else {
    values0[k] = a * span;
    d[k * n + k] = span;
    if (shape === "first-order-dead-time") {
      values0[k + 1] = b * span;
      d[(k + 1) * n + k + 1] = span;
    }
  }
  const variance = degrees > 0 ? fit.sumOfSquares / degrees : Number.NaN;
  const half = new Float64Array(n * n);
  const covariance = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let l = 0; l < n; l++) sum += d[i * n + l] * scaled[l * n + j];
      half[i * n + j] = sum;
    }
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      let sum = 0;
      for (let l = 0; l < n; l++) sum += half[i * n + l] * d[j * n + l];
      covariance[i * n + j] = variance * sum;
    }
  const standardErrors = new Float64Array(n);
  for (let i = 0; i < n; i++) standardErrors[i] = Math.sqrt(covariance[i * n + i]);
  return {
    shape,
    names: ["initial", ...(drift ? ["slope"] : []), "amplitude", ...shapeNames[shape]],
    values: values0,
    standardErrors,
    covariance,
    residualStandardDeviation: height * Math.sqrt(variance),
    converged: fit.converged,
  };
}
