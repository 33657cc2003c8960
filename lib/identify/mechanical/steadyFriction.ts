import { Matrix, QrDecomposition } from "ml-matrix";
import { studentQuantile } from "../../numeric/distributions/studentQuantile.js";
import type { SteadyPoint } from "./steadyPoints.js";

/** A line through steady points, with intervals. */
export interface SteadyFriction {
  readonly coulomb: { readonly value: number; readonly low: number; readonly high: number };
  readonly viscous: { readonly value: number; readonly low: number; readonly high: number };
  readonly points: number;
  readonly samples: number;
  /** Factor by which the scatter about the line exceeded the points' own errors; 1 when it did not. */
  readonly birge: number;
}

/**
 * Friction from steady points: `input = coulomb*sign(w) + viscous*w`, weighed by the errors of the points. With more
 * points than coefficients the scatter about the line is held against the points' own errors, and the covariance is
 * widened by their ratio when it is larger (Birge, Physical Review 40, 1932). Null unless two speeds differ by a tenth.
 *
 * @param angleError standard error of the angle by which currents were turned into the magnets' coordinates, rad
 *
 */
export function frictionFromSteadyPoints(
  points: readonly SteadyPoint[],
  angleError = 0,
): SteadyFriction | null {
  if (points.length < 2) return null;
  const speeds = points.map((p) => Math.abs(p.speed));
  if (!(Math.max(...speeds) > 1.1 * Math.min(...speeds))) return null;
  let slope = 0;
  let covariance = Matrix.zeros(2, 2);
  let beta = [0, 0];
  let chi2 = 0;
  // Twice: the error of speed counts by the slope, which the first pass finds.
  for (let pass = 0; pass < 2; pass++) {
    const a = Matrix.zeros(2, 2);
    const b = Matrix.zeros(2, 1);
    for (const p of points) {
      const weight = 1 / (p.inputError ** 2 + (slope * p.speedError) ** 2 + 1e-300);
      const x = [Math.sign(p.speed), p.speed];
      for (let i = 0; i < 2; i++) {
        b.set(i, 0, b.get(i, 0) + weight * x[i] * p.input);
        for (let j = 0; j < 2; j++) a.set(i, j, a.get(i, j) + weight * x[i] * x[j]);
      }
    }
    const scale = speeds.reduce((m, s) => Math.max(m, s), 0);
    const d = [1, 1 / scale];
    const scaled = new Matrix(2, 2);
    for (let i = 0; i < 2; i++) for (let j = 0; j < 2; j++) scaled.set(i, j, a.get(i, j) * d[i] * d[j]);
    const qr = new QrDecomposition(scaled);
    if (!qr.isFullRank()) return null;
    const inverse = qr.solve(Matrix.eye(2));
    covariance = new Matrix(2, 2);
    for (let i = 0; i < 2; i++)
      for (let j = 0; j < 2; j++) covariance.set(i, j, inverse.get(i, j) * d[i] * d[j]);
    beta = [0, 1].map((i) => covariance.get(i, 0) * b.get(0, 0) + covariance.get(i, 1) * b.get(1, 0));
    slope = beta[1];
    chi2 = 0;
    for (const p of points) {
      const residual = p.input - beta[0] * Math.sign(p.speed) - beta[1] * p.speed;
      chi2 += residual ** 2 / (p.inputError ** 2 + (slope * p.speedError) ** 2 + 1e-300);
    }
  }
  const free = points.length - 2;
  const birge = free > 0 ? Math.max(1, Math.sqrt(chi2 / free)) : 1;
  // An error of the angle of commutation mixes the same share of the current across into every point.
  const leak = [0, 1].map((i) =>
    points.reduce((sum, p) => {
      const weight = 1 / (p.inputError ** 2 + (slope * p.speedError) ** 2 + 1e-300);
      return (
        sum + weight * p.across * (covariance.get(i, 0) * Math.sign(p.speed) + covariance.get(i, 1) * p.speed)
      );
    }, 0),
  );
  const of = (i: number): { value: number; low: number; high: number } => {
    const leaked = (angleError * leak[i]) ** 2;
    // Degrees of freedom after Welch and Satterthwaite: a point that carries most of the variance gives most of them.
    let squares = 0;
    for (const p of points) {
      const variance = p.inputError ** 2 + (slope * p.speedError) ** 2 + 1e-300;
      const share =
        (covariance.get(i, 0) * Math.sign(p.speed) + covariance.get(i, 1) * p.speed) ** 2 / variance;
      squares += share ** 2 / Math.max(1, p.degreesOfFreedom);
    }
    const own = covariance.get(i, i);
    const scattered = birge ** 2 * own;
    const degrees =
      birge > 1
        ? free * ((scattered + leaked) / scattered) ** 2
        : (own + leaked) ** 2 / Math.max(1e-300, squares);
    const half = studentQuantile(0.975, degrees) * Math.sqrt(scattered + leaked);
    return { value: beta[i], low: beta[i] - half, high: beta[i] + half };
  };
  return {
    coulomb: of(0),
    viscous: of(1),
    points: points.length,
    samples: points.reduce((s, p) => s + p.samples, 0),
    birge,
  };
}
