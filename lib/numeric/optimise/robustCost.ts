import { type LossValue, robustLoss } from "./robustLoss.js";
import type { LossName } from "./types.js";

/** Whether every value is finite. */
export function isFiniteArray(a: Float64Array): boolean {
  for (let i = 0; i < a.length; i++) if (!Number.isFinite(a[i])) return false;
  return true;
}

const scratch: LossValue = { rho: 0, first: 0, second: 0 };

/** Half the robust sum of squares. */
export function costOf(r: Float64Array, loss: LossName, scale: number): number {
  let sum = 0;
  if (loss === "linear") {
    for (let i = 0; i < r.length; i++) sum += r[i] * r[i];
    return sum / 2;
  }
  for (let i = 0; i < r.length; i++) {
    robustLoss(loss, (r[i] / scale) ** 2, scratch);
    sum += scratch.rho;
  }
  return (sum * scale * scale) / 2;
}

/** cost(a) - cost(b), without cancelling the leading digits of ordinary least squares. */
export function reductionOf(a: Float64Array, b: Float64Array, loss: LossName, scale: number): number {
  if (loss !== "linear") return costOf(a, loss, scale) - costOf(b, loss, scale);
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] - b[i]) * (a[i] + b[i]);
  return sum / 2;
}
