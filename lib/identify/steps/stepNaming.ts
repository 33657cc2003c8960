import type { StepModelFit } from "./fitStepModel.js";
import type { StepModelName } from "./stepFitTypes.js";

/** Damping ratio of 1/(b s² + a s + 1). */
export function dampingOf(a: number, b: number): number {
  return a / (2 * Math.sqrt(b));
}

export function modelName(fit: StepModelFit): StepModelName {
  if (fit.shape !== "second-order") return fit.shape;
  return dampingOf(fit.a, fit.b) < 1 ? "second-order-underdamped" : "second-order-overdamped";
}
