import type { LossName } from "./types.js";

/** Loss rho and its first two derivatives at z, the squared residual over the squared scale. */
export interface LossValue {
  rho: number;
  first: number;
  second: number;
}

/**
 * Robust losses on z = (residual/scale)²: `linear` z, `soft-l1` 2(sqrt(1+z)-1), `huber` z up to 1 then 2 sqrt(z)-1,
 * `cauchy` ln(1+z). Each is z for small z, so that a small residual counts as in ordinary least squares.
 *
 * Triggs et al., Bundle Adjustment: A Modern Synthesis (2000); Huber, Robust Statistics (1981).
 *
 * @example
 * const v = { rho: 0, first: 0, second: 0 };
 * robustLoss("huber", 4, v); // v.rho === 3
 */
export function robustLoss(name: LossName, z: number, out: LossValue): void {
  switch (name) {
    case "linear":
      out.rho = z;
      out.first = 1;
      out.second = 0;
      return;
    case "soft-l1": {
      const t = Math.sqrt(1 + z);
      // 2(t-1) without cancellation
      out.rho = (2 * z) / (t + 1);
      out.first = 1 / t;
      out.second = -0.5 / (t * t * t);
      return;
    }
    case "huber":
      if (z <= 1) {
        out.rho = z;
        out.first = 1;
        out.second = 0;
      } else {
        const t = Math.sqrt(z);
        out.rho = 2 * t - 1;
        out.first = 1 / t;
        out.second = -0.5 / (z * t);
      }
      return;
    case "cauchy":
      out.rho = Math.log1p(z);
      out.first = 1 / (1 + z);
      out.second = -1 / (1 + z) ** 2;
      return;
  }
}

/** Scale of the loss in robust standard deviations that keeps about 95 % efficiency on normal residuals (Huber 1981;
 * Holland and Welsch 1977). */
export const lossTuning: Readonly<Record<LossName, number>> = {
  linear: 1,
  "soft-l1": 1.345,
  huber: 1.345,
  cauchy: 2.385,
};
